// The points of the dossier: how well each is known, and what it lacks.
#pragma once

#include <map>

#include "tools/desk/tables/table_panel.h"
#include "tools/desk/tables/weakness.h"

namespace desk {

class PointsModel : public KeyedTable {
  Q_OBJECT
 public:
  enum Column { kName, kKind, kMarks, kPhotos, kU, kAlong, kDoubted, kLacks, kColumns };

  explicit PointsModel(DeskSession* session);
  [[nodiscard]] int columnCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  [[nodiscard]] QVariant headerData(int section, Qt::Orientation orientation,
                                    int role) const override;
  bool setData(const QModelIndex& index, const QVariant& value, int role) override;
  [[nodiscard]] Qt::ItemFlags flags(const QModelIndex& index) const override;
  void refresh();

 private:
  struct Row {
    QString name, kind, lacks;
    int marks = 0, set_aside = 0, photos = 0, doubted = 0;
    std::optional<Weakness> weakness;
  };
  [[nodiscard]] static int alignment(int column);
  [[nodiscard]] QString text_of(const Row& row, int column) const;
  [[nodiscard]] QVariant sort_value(const Row& row, int column) const;
  [[nodiscard]] QString tip_of(const Row& row, int column) const;

  DeskSession* session_;
  std::vector<Row> rows_;
  std::shared_ptr<const measure::Survey> weighed_;  // that weaknesses_ are of
  std::map<std::string, Weakness> weaknesses_;
};

class PointsTable : public TablePanel {
  Q_OBJECT
 public:
  PointsTable(DeskSession* session, KeyBook* keys, QWidget* parent = nullptr);
  /// What is unplaced first, then the largest U.
  void sort_by_weakness();

 protected:
  QString count_text(int shown, int all) const override;
};

}  // namespace desk
