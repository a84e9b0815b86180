// A simulated dossier with the panel of edges and rounds and a photo to mark them in.
#pragma once

#include <QAbstractItemModel>
#include <QAction>
#include <memory>
#include <string>
#include <vector>

#include "tests/support/desk_dossier.h"
#include "tests/support/simulated_shapes.h"
#include "tools/desk/look/key_book.h"
#include "tools/desk/photos/photo_canvas.h"
#include "tools/desk/photos/photo_pane.h"
#include "tools/desk/photos/photo_store.h"
#include "tools/desk/shapes/shapes_panel.h"
#include "tools/desk/shapes/shapes_table.h"

namespace testing_support {

/// The dossier holds no shapes; what a person would click along those of simulated_shapes.h is
/// known beside it. Both are drawn from one seed: the photos see the same original.
class ShapeDesk {
 public:
  /// @param all_shapes  the dossier holds those of simulated_shapes.h, with their marks
  explicit ShapeDesk(bool all_shapes = false, std::uint32_t seed = 1);

  [[nodiscard]] desk::DeskSession& session() { return *dossier.session; }
  [[nodiscard]] desk::PhotoCanvas* canvas() { return pane->canvas(); }
  /// Marks along a shape of the simulation, in the order of the photos.
  [[nodiscard]] std::vector<measure::ShapeMark> places_along(const std::string& shape) const;
  /// Starts an action of the panel, or of the photo, as its key or menu would.
  void start(const QString& action);
  /// Opens the photo and clicks there at four view pixels a photo pixel.
  void click(const std::string& photo, const Eigen::Vector2d& px);
  /// Where a place of the photo stands in the canvas.
  [[nodiscard]] QPoint seen_at(const Eigen::Vector2d& px);
  /// Adds a shape by the panel and clicks all its places; what the panel has named it.
  std::string mark(const QString& action, const std::string& simulated);
  /// The panel's text of a shape.
  [[nodiscard]] QString text(const std::string& shape, desk::ShapesModel::Column column) const;
  void select(const std::vector<std::string>& shapes);
  [[nodiscard]] std::vector<measure::ShapeMark> marks_of(const std::string& shape);

  SimulatedShapes simulated;
  DeskDossier dossier;
  desk::PhotoStore store;
  desk::KeyBook keys{nullptr};
  QStringList chosen_points;        ///< selected in the table of points
  std::unique_ptr<QWidget> window;  ///< pane and panel side by side
  desk::PhotoPane* pane = nullptr;
  desk::ShapesPanel* panel = nullptr;
  QStringList said;  ///< by the panel
};

/// "diameter 54.02 ± 0.11 mm": the two numbers. NaN where the text has none.
std::pair<double, double> value_and_u(const QString& text);

}  // namespace testing_support
