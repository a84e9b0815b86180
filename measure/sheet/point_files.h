// Points, edges and circles for modelling programs: PLY and OBJ.
#pragma once

#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/sheet/shape_list.h"

namespace measure {

struct PointFileOptions {
  int circle_corners = 72;  ///< a circle is a closed polyline of so many; 8 to 720
};

/// PLY, "format ascii 1.0". Vertices: the points in the order of the list with the six elements of
/// their covariance (cxx cxy cxz cyy cyz czz; all 0 where there is none, which `has_covariance`
/// tells), then the ends of edges and the corners of circles and of the ends of cylinders, with
/// `kind` 0 point, 1 end of an edge or of an axis, 2 corner of a circle. Edges: the element `edge`
/// with vertex1 and vertex2. Unit, scale, meaning of the elements and all names stand in comment
/// lines, one for each name, in the order of the vertices (line ends in names become spaces).
///
/// Errors: what ShapeList::first_problem says; a Problem (kInput) for a number of corners that
///         cannot be.
[[nodiscard]] calib::Result<std::string, calib::Problem> shapes_ply(
    const ShapeList& shapes, const PointFileOptions& options = {});

/// OBJ: an object for each shape ("o" with its name, spaces as underscores), points as "p", edges
/// as "l" of two vertices, circles as closed "l". Unit and scale stand in comments.
///
/// Errors: as shapes_ply.
[[nodiscard]] calib::Result<std::string, calib::Problem> shapes_obj(
    const ShapeList& shapes, const PointFileOptions& options = {});

}  // namespace measure
