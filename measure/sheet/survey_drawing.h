// What a survey puts into data files and templates: its points and shapes in the user's own axes,
// and views of them with the dimensions that lie in the view.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/dossier.h"
#include "measure/sheet/drawing_plane.h"
#include "measure/sheet/outline.h"
#include "measure/sheet/shape_list.h"

namespace measure {

/// Placed points and shapes at the original's scale: lines and edges as far as they were marked,
/// circles, cylinders; crossings as points. In the model axes where the dossier has them, else in
/// the survey's own.
///
/// Covariances are those of the free network, turned: of the places among themselves, not of where
/// the axes lie.
/// @param only  names of points and shapes; empty: all.
/// @param joint_covariance  of all points too.
[[nodiscard]] ShapeList shape_list(const Survey& survey, const Dossier& dossier,
                                   std::span<const std::string> only = {},
                                   bool joint_covariance = false);

/// A direction to look from.
struct View {
  std::string name;  ///< "from above"
  DrawingPlane plane;
};

/// With model axes from above, from the side and from the front; else onto the plane that the
/// points are nearest to.
/// @param on  a plane or circle of the dossier: onto this alone, from its positive side.
/// @param factor  original to paper.
/// Errors: kInput where `on` is no plane that has a place, or nothing is placed.
[[nodiscard]] calib::Result<std::vector<View>, calib::Problem> views_of(const Survey& survey,
                                                                        const Dossier& dossier,
                                                                        const std::string& on,
                                                                        double factor);

/// What a template shows.
struct TemplateContent {
  std::string title, scale_text;
  std::string scale;  ///< of the dimension results: "model", "full", "replica 1:72"
  TextUnit unit = TextUnit::kMm;
  std::vector<std::string> only;  ///< names of points, shapes and dimensions; empty: all
};

/// The view drawn at the view's factor. Dimensions are drawn that are seen at their true size:
/// distances, chords and angles that lie in the plane within their error bars, radii and diameters
/// of circles that face the viewer.
[[nodiscard]] TemplateDrawing draw_view(const View& view, const Survey& survey,
                                        const Dossier& dossier,
                                        std::span<const DimensionResult> results,
                                        const TemplateContent& content);

}  // namespace measure
