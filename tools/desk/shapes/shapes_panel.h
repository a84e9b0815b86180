// The panel "Edges and rounds": shapes are made here, chosen for marking, and asked about.
#pragma once

#include <QMenu>
#include <functional>

#include "tools/desk/shapes/axes_form.h"
#include "tools/desk/shapes/result_view.h"
#include "tools/desk/shapes/shape_form.h"
#include "tools/desk/shapes/shapes_table.h"
#include "tools/desk/tables/table_panel.h"

namespace desk {

/// Object names: shapes_panel, .view, .filter, .empty, .add, .ask, .mark, .result; actions
/// shapes_panel.edge, .circle, .cylinder, .line_through …, .picked, .mirror_plane, .parallel_plane,
/// .axes, .diameter, .radius, .gap, .angle, .offset, .mark, .remove
class ShapesPanel : public TablePanel {
  Q_OBJECT
 public:
  /// @param chosen_points  names selected in the table of points: what a plane goes through
  ShapesPanel(DeskSession* session, KeyBook* keys, std::function<QStringList()> chosen_points,
              QWidget* parent = nullptr);

 Q_SIGNALS:
  /// The person wants to set marks along the chosen shape.
  void marking_wanted();
  /// A sentence about what was made, or why it was not.
  void said(const QString& sentence);

 protected:
  QString count_text(int shown, int all) const override;

 private:
  void add_making(QMenu* menu);
  void add_forms(QMenu* menu);
  void open_form(MadeShape kind);
  /// Of the chosen row, where there is more to say than fits into it.
  void show_result();
  void add_asking(QMenu* menu);
  void make(const QString& word, measure::ShapeOrigin origin);
  void ask(const measure::DimensionKind& kind);
  [[nodiscard]] std::vector<std::string> points() const;
  [[nodiscard]] std::vector<std::string> shapes() const;  ///< selected, in the dossier's order

  std::function<QStringList()> chosen_points_;
  ResultView* result_;
  ShapeForm* shape_form_ = nullptr;
  AxesForm* axes_form_ = nullptr;
};

}  // namespace desk
