// Lines, rings and shapes of space drawn into one photo, as its lens bends them.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "measure/live/trace.h"
#include "measure/shapes/form.h"
#include "tools/desk/photos/photo_trace.h"
#include "tools/desk/session/desk_session.h"

namespace desk {

class Tracer {
 public:
  Tracer(const DeskSession& session, const measure::OrientedPhoto& photo,
         const calib::ImageSize& size, PhotoTrace& trace)
      : session_(session), photo_(photo), size_(size), trace_(trace) {}

  /// A point or shape with a place in space; nothing where it has none.
  [[nodiscard]] std::optional<measure::Form> form(const std::string& name) const;
  /// Where it counts as a place: a point, a centre, an apex, the middle of a line or plane.
  [[nodiscard]] std::optional<Eigen::Vector3d> at(const std::string& name) const;

  /// Unit length: from the camera to a place.
  [[nodiscard]] Eigen::Vector3d sight(const Eigen::Vector3d& place) const;
  /// Unit length: at right angles to an axis, and to the line of sight to a place on it as well.
  [[nodiscard]] Eigen::Vector3d across_sight(const Eigen::Vector3d& place,
                                             const Eigen::Vector3d& axis) const;

  void line(const Eigen::Vector3d& a, const Eigen::Vector3d& b, TracedCurve like);
  /// The part of an angle near its vertex.
  void arc(const Eigen::Vector3d& vertex, const Eigen::Vector3d& first,
           const Eigen::Vector3d& second, TracedCurve like);
  /// About a centre: from the direction x, unit length, turned towards y by an angle, rad.
  void ring(const Eigen::Vector3d& centre, double radius, const Eigen::Vector3d& x,
            const Eigen::Vector3d& y, double angle, TracedCurve like);
  /// All of a shape that can be seen: the edge between its ends, the rim, the outline.
  void shape(const measure::Form& form, const TracedCurve& like);

 private:
  void cylinder(const measure::Form& form, const TracedCurve& like);
  void cone(const measure::Form& form, const TracedCurve& like);
  void sphere(const measure::Form& form, const TracedCurve& like);

  const DeskSession& session_;
  const measure::OrientedPhoto& photo_;
  const calib::ImageSize& size_;
  PhotoTrace& trace_;
};

/// The place of a line, plane or point that is nearest to a place; of what has a centre, that.
[[nodiscard]] Eigen::Vector3d nearest_place(const measure::Form& form, const Eigen::Vector3d& to);
/// Where two forms come nearest to each other, as Distance counts them.
[[nodiscard]] std::pair<Eigen::Vector3d, Eigen::Vector3d> nearest_places(const measure::Form& a,
                                                                         const measure::Form& b);

}  // namespace desk
