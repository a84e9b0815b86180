// The marks of the chosen point or photo, how they did in the adjustment, and which are set aside.
#pragma once

#include <QComboBox>

#include "tools/desk/look/look.h"
#include "tools/desk/tables/table_panel.h"

namespace desk {

enum class MarksOf { kPoint, kPhoto, kDoubted, kAll };

class MarksModel : public KeyedTable {
  Q_OBJECT
 public:
  enum Column { kPhoto, kPoint, kResidual, kW, kRedundancy, kSigma, kState, kColumns };

  explicit MarksModel(DeskSession* session);
  void show_marks_of(MarksOf scope);
  [[nodiscard]] MarksOf scope() const { return scope_; }

  [[nodiscard]] int columnCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  [[nodiscard]] QVariant headerData(int section, Qt::Orientation orientation,
                                    int role) const override;
  void refresh();

  [[nodiscard]] static QString key_of(const std::string& photo, const std::string& point);
  [[nodiscard]] static measure::MarkKey mark_of(const QString& key);

 private:
  struct Row {
    measure::Mark mark;
    std::optional<measure::MarkReport> report;
    MarkState state = MarkState::kByHand;
  };
  [[nodiscard]] int alignment(int column) const;
  [[nodiscard]] QString text_of(const Row& row, int column) const;
  [[nodiscard]] QVariant sort_value(const Row& row, int column) const;
  [[nodiscard]] QString tip_of(const Row& row, int column) const;

  DeskSession* session_;
  MarksOf scope_ = MarksOf::kPoint;
  std::vector<Row> rows_;
};

class MarksTable : public TablePanel {
  Q_OBJECT
 public:
  MarksTable(DeskSession* session, KeyBook* keys, QWidget* parent = nullptr);
  void show_marks_of(MarksOf scope);

 protected:
  QString count_text(int shown, int all) const override;

 private:
  void set_aside(bool aside);
  void follow_scope();

  QComboBox* scope_;
};

}  // namespace desk
