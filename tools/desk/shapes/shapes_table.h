// The edges, rounds and planes of the dossier: what they are, how large, how true, what they lack.
#pragma once

#include "tools/desk/session/desk_session.h"
#include "tools/desk/tables/keyed_table.h"

namespace desk {

class ShapesModel : public KeyedTable {
  Q_OBJECT
 public:
  enum Column { kName, kSize, kOrigin, kForm, kMarks, kDoubted, kLacks, kColumns };

  explicit ShapesModel(DeskSession* session);
  [[nodiscard]] int columnCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  [[nodiscard]] QVariant headerData(int section, Qt::Orientation orientation,
                                    int role) const override;
  bool setData(const QModelIndex& index, const QVariant& value, int role) override;
  [[nodiscard]] Qt::ItemFlags flags(const QModelIndex& index) const override;
  void refresh();

 private:
  struct Row {
    QString name = {}, origin = {}, size = {}, form = {}, marks = {}, lacks = {}, doubted = {};
    int mark_count = 0, doubted_count = 0;
    double radius = 0.0;
  };
  [[nodiscard]] static QString text_of(const Row& row, int column);
  [[nodiscard]] QString lacks(const measure::Shape& shape) const;

  DeskSession* session_;
  std::vector<Row> rows_;
};

}  // namespace desk
