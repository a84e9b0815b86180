#include "measure/sheet/drawing_plane.h"

#include <algorithm>
#include <cmath>

namespace measure {
namespace {

using Eigen::Vector2d;
using Eigen::Vector3d;

// Less than this share of its diameter, and a circle seen from its edge is a straight line: an
// ellipse thinner than a line on any paper.
constexpr double kEdgeOn = 1e-4;
// Centre lines stand out over the rim by this share of the radius, 2 mm at least (common practice,
// no source).
constexpr double kCentreLineOver = 0.12;
constexpr double kCentreLineLeast_mm = 2.0;

Eigen::Matrix<double, 2, 3> onto(const DrawingPlane& plane) {
  Eigen::Matrix<double, 2, 3> rows;
  rows << plane.x_axis.transpose(), plane.y_axis.transpose();
  return plane.factor * rows;
}

void add_centre_cross(TemplateDrawing& drawing, const TemplateEllipse& circle) {
  const Vector2d along(std::cos(circle.turn_rad), std::sin(circle.turn_rad));
  const Vector2d across(-along.y(), along.x());
  const double over = std::max(kCentreLineOver * circle.radius_mm, kCentreLineLeast_mm);
  for (const Vector2d& half : {Vector2d((circle.radius_mm + over) * along),
                               Vector2d((circle.minor_radius_mm + over) * across)}) {
    drawing.centre_lines.push_back({circle.centre_mm - half, circle.centre_mm + half});
  }
}

/// Adds what the factor's own uncertainty does: places on paper grow with it in common.
Eigen::Matrix2d with_factor(const DrawingPlane& plane, const Eigen::Matrix2d& covariance,
                            const Vector2d& at_mm) {
  const Vector2d moved = plane.factor_relative_u * at_mm;
  return covariance + moved * moved.transpose();
}
Eigen::Matrix4d with_factor(const DrawingPlane& plane, const Eigen::Matrix4d& covariance,
                            const DrawnSegment& segment) {
  Eigen::Vector4d ends;
  ends << segment.from_mm, segment.to_mm;
  const Eigen::Vector4d moved = plane.factor_relative_u * ends;
  return covariance + moved * moved.transpose();
}

}  // namespace

calib::Result<DrawingPlane, calib::Problem> drawing_plane(const Vector3d& origin_mm,
                                                          const Vector3d& towards_viewer,
                                                          const Vector3d& up, double factor) {
  const auto refused = [](const char* why) {
    return calib::Unexpected(calib::Problem{std::string("the plane of a drawing ") + why});
  };
  if (!origin_mm.allFinite() || !towards_viewer.allFinite() || !up.allFinite()) {
    return refused("has a place or a direction that is no number: choose another one.");
  }
  if (!(factor > 0.0 && std::isfinite(factor))) {
    return refused("needs a scale above 0.");
  }
  if (!(towards_viewer.norm() > 0.0) || !(up.norm() > 0.0)) {
    return refused("has a direction without length: choose points that lie apart.");
  }
  const Vector3d normal = towards_viewer.normalized();
  const Vector3d in_plane = up.normalized() - up.normalized().dot(normal) * normal;
  constexpr double kParallel = 1e-6;
  if (!(in_plane.norm() > kParallel)) {
    return refused("has its upward direction along the line of sight: choose another one.");
  }
  DrawingPlane plane;
  plane.origin_mm = origin_mm;
  plane.y_axis = in_plane.normalized();
  plane.x_axis = plane.y_axis.cross(normal).normalized();
  plane.factor = factor;
  return plane;
}

Vector2d project(const DrawingPlane& plane, const Vector3d& place_mm) {
  return onto(plane) * (place_mm - plane.origin_mm);
}

Eigen::Matrix2d project_covariance(const DrawingPlane& plane,
                                   const Eigen::Matrix3d& covariance_mm2) {
  const Eigen::Matrix<double, 2, 3> rows = onto(plane);
  return rows * covariance_mm2 * rows.transpose();
}

DrawnPoint project(const DrawingPlane& plane, const NamedPoint& point) {
  DrawnPoint drawn{point.name, project(plane, point.position)};
  if (point.covariance) {
    drawn.covariance_mm2 =
        with_factor(plane, project_covariance(plane, *point.covariance), drawn.at_mm);
  }
  return drawn;
}

DrawnSegment project(const DrawingPlane& plane, const NamedEdge& edge) {
  DrawnSegment drawn{edge.name, project(plane, edge.from), project(plane, edge.to)};
  if (edge.covariance) {
    Eigen::Matrix<double, 4, 6> both = Eigen::Matrix<double, 4, 6>::Zero();
    both.topLeftCorner<2, 3>() = both.bottomRightCorner<2, 3>() = onto(plane);
    drawn.covariance_mm2 = with_factor(plane, both * *edge.covariance * both.transpose(), drawn);
  }
  return drawn;
}

TemplateEllipse project(const DrawingPlane& plane, const NamedCircle& circle) {
  TemplateEllipse drawn;
  drawn.name = circle.name;
  drawn.centre_mm = project(plane, circle.centre);
  drawn.radius_mm = plane.factor * circle.radius;
  const Vector3d normal = circle.normal.normalized();
  const double facing = std::min(std::abs(normal.dot(plane.normal())), 1.0);
  drawn.minor_radius_mm = drawn.radius_mm * facing;
  // The diameter at right angles to normal and line of sight is not foreshortened.
  const Vector2d tilt(normal.dot(plane.x_axis), normal.dot(plane.y_axis));
  drawn.turn_rad = tilt.norm() > 1e-12 ? std::atan2(tilt.x(), -tilt.y()) : 0.0;
  if (circle.covariance) {
    drawn.u_radius_mm =
        std::hypot(plane.factor * std::sqrt(std::max((*circle.covariance)(6, 6), 0.0)),
                   plane.factor_relative_u * drawn.radius_mm);
    drawn.centre_covariance_mm2 =
        with_factor(plane, project_covariance(plane, circle.covariance->topLeftCorner<3, 3>()),
                    drawn.centre_mm);
  }
  return drawn;
}

void add_circle(TemplateDrawing& drawing, const DrawingPlane& plane, const NamedCircle& circle) {
  const TemplateEllipse drawn = project(plane, circle);
  if (drawn.minor_radius_mm >= kEdgeOn * drawn.radius_mm) {
    drawing.circles.push_back(drawn);
    add_centre_cross(drawing, drawn);
    return;
  }
  const Vector2d half =
      drawn.radius_mm * Vector2d(std::cos(drawn.turn_rad), std::sin(drawn.turn_rad));
  DrawnSegment edge{circle.name, drawn.centre_mm - half, drawn.centre_mm + half};
  if (circle.covariance) {
    // Ends are centre ∓ radius × direction.
    Eigen::Matrix<double, 4, 7> ends = Eigen::Matrix<double, 4, 7>::Zero();
    ends.topLeftCorner<2, 3>() = ends.bottomLeftCorner<2, 3>() = onto(plane);
    ends.block<2, 1>(0, 6) = -plane.factor * half.normalized();
    ends.block<2, 1>(2, 6) = plane.factor * half.normalized();
    // d(direction)/d(normal): the edge turns in the drawing as the normal does.
    const Vector2d across(-half.normalized().y(), half.normalized().x());
    const Eigen::RowVector3d turned = half.normalized().x() * plane.x_axis.transpose() +
                                      half.normalized().y() * plane.y_axis.transpose();
    const double sign =
        circle.normal.normalized().dot(across.x() * plane.x_axis + across.y() * plane.y_axis) < 0.0
            ? -1.0
            : 1.0;
    // The normal lies along ± across: turning by φ moves its part along the edge by ∓ φ.
    ends.block<2, 3>(0, 3) = drawn.radius_mm * sign * across * turned;
    ends.block<2, 3>(2, 3) = -drawn.radius_mm * sign * across * turned;
    edge.covariance_mm2 = with_factor(plane, ends * *circle.covariance * ends.transpose(), edge);
  }
  drawing.edges.push_back(edge);
}

void add_cylinder(TemplateDrawing& drawing, const DrawingPlane& plane,
                  const NamedCylinder& cylinder) {
  const Vector3d axis = cylinder.to - cylinder.from;
  const Vector2d from = project(plane, cylinder.from), to = project(plane, cylinder.to);
  const double length = plane.factor * axis.norm();
  const auto end_at = [&](const Vector3d& centre, Eigen::Index first) {
    NamedCircle end;
    end.name = cylinder.name;
    end.centre = centre;
    end.normal = axis.norm() > 0.0 ? Vector3d(axis.normalized()) : plane.normal();
    end.radius = cylinder.radius;
    if (cylinder.covariance) {
      Eigen::Matrix<double, 7, 7> covariance = Eigen::Matrix<double, 7, 7>::Zero();
      const auto& whole = *cylinder.covariance;
      covariance.topLeftCorner<3, 3>() = whole.block<3, 3>(first, first);
      covariance.block<3, 1>(0, 6) = whole.block<3, 1>(first, 6);
      covariance.block<1, 3>(6, 0) = whole.block<1, 3>(6, first);
      covariance(6, 6) = whole(6, 6);
      end.covariance = covariance;
    }
    return end;
  };
  if (!((to - from).norm() > kEdgeOn * std::max(length, 1e-12))) {
    add_circle(drawing, plane, end_at(cylinder.from, 0));
    return;
  }
  for (const bool first : {true, false}) {
    const TemplateEllipse end =
        project(plane, end_at(first ? cylinder.from : cylinder.to, first ? 0 : 3));
    const Vector2d half = end.radius_mm * Vector2d(std::cos(end.turn_rad), std::sin(end.turn_rad));
    if (end.minor_radius_mm >= kEdgeOn * end.radius_mm) {
      drawing.circles.push_back(end);
      drawing.circles.back().name.clear();  // the outlines bear the name
      drawing.circles.back().u_radius_mm = 0.0;
      drawing.circles.back().centre_covariance_mm2.reset();
    } else {
      drawing.edges.push_back({"", end.centre_mm - half, end.centre_mm + half});
    }
  }
  const Vector2d along = (to - from).normalized(), across(-along.y(), along.x());
  const double radius_mm = plane.factor * cylinder.radius;
  for (const double side : {1.0, -1.0}) {
    DrawnSegment outline{side > 0.0 ? cylinder.name : "", from + side * radius_mm * across,
                         to + side * radius_mm * across};
    if (cylinder.covariance) {
      // The outline is the axis moved sideways by the radius; how the sideways direction turns
      // moves it along itself only.
      Eigen::Matrix<double, 4, 7> ends = Eigen::Matrix<double, 4, 7>::Zero();
      ends.block<2, 3>(0, 0) = ends.block<2, 3>(2, 3) = onto(plane);
      ends.block<2, 1>(0, 6) = ends.block<2, 1>(2, 6) = side * plane.factor * across;
      outline.covariance_mm2 =
          with_factor(plane, ends * *cylinder.covariance * ends.transpose(), outline);
    }
    drawing.edges.push_back(outline);
  }
  const double over = std::max(kCentreLineOver * radius_mm, kCentreLineLeast_mm);
  drawing.centre_lines.push_back({from - over * along, to + over * along});
}

void add_shapes(TemplateDrawing& drawing, const DrawingPlane& plane, const ShapeList& shapes) {
  for (const NamedPoint& point : shapes.points) {
    drawing.points.push_back(project(plane, point));
  }
  for (const NamedEdge& edge : shapes.edges) {
    drawing.edges.push_back(project(plane, edge));
  }
  for (const NamedCircle& circle : shapes.circles) {
    add_circle(drawing, plane, circle);
  }
  for (const NamedCylinder& cylinder : shapes.cylinders) {
    add_cylinder(drawing, plane, cylinder);
  }
}

}  // namespace measure
