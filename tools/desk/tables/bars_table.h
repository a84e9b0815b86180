// Scale bars and check lengths: what they should be, what was found.
#pragma once

#include "tools/desk/tables/table_panel.h"

namespace desk {

class BarsModel : public KeyedTable {
  Q_OBJECT
 public:
  enum Column { kName, kUse, kFrom, kTo, kCertified, kFound, kError, kState, kColumns };

  explicit BarsModel(DeskSession* session);
  [[nodiscard]] int columnCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  [[nodiscard]] QVariant headerData(int section, Qt::Orientation orientation,
                                    int role) const override;
  void refresh();

 private:
  struct Row {
    measure::ScaleBar bar;
    std::optional<measure::BarReport> report;
    bool alone = false;  ///< the only one in the solution: nothing checks it
  };
  [[nodiscard]] int alignment(int column) const;
  [[nodiscard]] QString text_of(const Row& row, int column) const;
  [[nodiscard]] QVariant sort_value(const Row& row, int column) const;
  [[nodiscard]] QString tip_of(const Row& row, int column) const;

  DeskSession* session_;
  std::vector<Row> rows_;
};

class BarsTable : public TablePanel {
  Q_OBJECT
 public:
  BarsTable(DeskSession* session, KeyBook* keys, QWidget* parent = nullptr);

 protected:
  QString count_text(int shown, int all) const override;
};

}  // namespace desk
