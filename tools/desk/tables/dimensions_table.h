// What is asked of the original, with its answers in every scale.
#pragma once

#include "tools/desk/tables/table_panel.h"
#include "tools/desk/tables/tolerance.h"

namespace desk {

class DimensionsModel : public KeyedTable {
  Q_OBJECT
 public:
  DimensionsModel(DeskSession* session, Tolerance* tolerance);

  // Columns: name, one for each scale, budget, tolerance, kind, problem: the numbers come first.
  enum Fixed { kName, kFirstScale };
  [[nodiscard]] int budget_column() const { return kFirstScale + int(scales_.size()); }
  [[nodiscard]] int tolerance_column() const { return budget_column() + 1; }
  [[nodiscard]] int kind_column() const { return budget_column() + 2; }
  [[nodiscard]] int problem_column() const { return budget_column() + 3; }

  [[nodiscard]] int columnCount(const QModelIndex& parent = {}) const override;
  [[nodiscard]] QVariant data(const QModelIndex& index, int role) const override;
  bool setData(const QModelIndex& index, const QVariant& value, int role) override;
  [[nodiscard]] Qt::ItemFlags flags(const QModelIndex& index) const override;
  [[nodiscard]] QVariant headerData(int section, Qt::Orientation orientation,
                                    int role) const override;
  void refresh();
  /// At its place in the list; refused() of the session says why not.
  void rename(const std::string& old, const std::string& name);
  /// Of one dimension, as typed; empty: none of its own.
  void set_tolerance(const std::string& dimension, const QString& typed);

 private:
  struct Row {
    measure::AskedDimension asked;
    std::vector<const measure::DimensionResult*> by_scale;  // null: no answer yet
  };
  [[nodiscard]] int alignment(int column) const;
  [[nodiscard]] QString text_of(const Row& row, int column) const;
  [[nodiscard]] QVariant sort_value(const Row& row, int column) const;
  [[nodiscard]] QString tip_of(const Row& row, int column) const;
  [[nodiscard]] const measure::DimensionResult* original(const Row& row) const;
  /// U over tolerance, on the original.
  [[nodiscard]] std::optional<double> ratio_to_tolerance(const Row& row) const;

  DeskSession* session_;
  Tolerance* tolerance_;
  std::shared_ptr<const LiveState> live_;  // keeps what rows_ points to
  std::vector<QString> scales_;            // as measure names them: "model", "full", …
  std::vector<Row> rows_;
};

class DimensionsTable : public TablePanel {
  Q_OBJECT
 public:
  DimensionsTable(DeskSession* session, KeyBook* keys, Tolerance* tolerance,
                  QWidget* parent = nullptr);
  /// What has no value first, then the largest U against its tolerance, or the largest relative U
  /// where there is no tolerance.
  void sort_by_weakness();

 protected:
  QString count_text(int shown, int all) const override;
};

/// "distance from A to B".
[[nodiscard]] QString asked_text(const measure::DimensionKind& kind);
/// "distance", "angle" …
[[nodiscard]] QString kind_text(const measure::DimensionKind& kind);
/// Where U² comes from, in words: "marks 71 %, scale bars 29 %".
[[nodiscard]] QString budget_text(const measure::DimensionResult& result);

}  // namespace desk
