// Edges, rounds and planes of the original: what the user says of them, data only.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include <Eigen/Core>

#include "measure/dossier/dimension_kind.h"
#include "measure/dossier/mark_source.h"

namespace measure {

// As in dimension_kind.h, names(self, field) tells the fields of an origin; beside those there are
//   field.number(key, std::optional<double>&)
//   field.pairs(key, std::vector<std::pair<std::string, std::string>>&)

/// A straight edge, marked anywhere along it in two photos or more.
struct SeenEdge {
  friend bool operator==(const SeenEdge&, const SeenEdge&) = default;
  static constexpr std::string_view kWord = "seen_edge";
  static void names(auto&, auto&&) {}
};
/// A circle, marked anywhere along its rim.
struct SeenCircle {
  friend bool operator==(const SeenCircle&, const SeenCircle&) = default;
  static constexpr std::string_view kWord = "seen_circle";
  static void names(auto&, auto&&) {}
};
/// A cylinder, marked anywhere along the two sides of its outline.
struct SeenCylinder {
  friend bool operator==(const SeenCylinder&, const SeenCylinder&) = default;
  static constexpr std::string_view kWord = "seen_cylinder";
  static void names(auto&, auto&&) {}
};

/// The best one through points.
struct LineThrough {
  std::vector<std::string> points;
  friend bool operator==(const LineThrough&, const LineThrough&) = default;
  static constexpr std::string_view kWord = "line";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
struct PlaneThrough {
  std::vector<std::string> points;
  friend bool operator==(const PlaneThrough&, const PlaneThrough&) = default;
  static constexpr std::string_view kWord = "plane";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
struct CircleThrough {
  std::vector<std::string> points;
  friend bool operator==(const CircleThrough&, const CircleThrough&) = default;
  static constexpr std::string_view kWord = "circle";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
struct SphereThrough {
  std::vector<std::string> points;
  friend bool operator==(const SphereThrough&, const SphereThrough&) = default;
  static constexpr std::string_view kWord = "sphere";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
struct CylinderThrough {
  std::vector<std::string> points;
  friend bool operator==(const CylinderThrough&, const CylinderThrough&) = default;
  static constexpr std::string_view kWord = "cylinder";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
struct ConeThrough {
  std::vector<std::string> points;
  friend bool operator==(const ConeThrough&, const ConeThrough&) = default;
  static constexpr std::string_view kWord = "cone";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};

/// Of two lines: the point between them. Of a line and a plane: a point. Of two planes: a line.
struct Crossing {
  std::string first, second;
  friend bool operator==(const Crossing&, const Crossing&) = default;
  static constexpr std::string_view kWord = "crossing";
  static void names(auto& self, auto&& field) {
    field.name("first", self.first, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};
/// Halfway between two planes that face each other.
struct MidPlane {
  std::string first, second;
  friend bool operator==(const MidPlane&, const MidPlane&) = default;
  static constexpr std::string_view kWord = "mid_plane";
  static void names(auto& self, auto&& field) {
    field.name("first", self.first, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};
/// Parallel to a plane: through a point, or offset towards the side of its normal.
struct ParallelPlane {
  std::string plane, through;
  std::optional<double> offset_mm;
  friend bool operator==(const ParallelPlane&, const ParallelPlane&) = default;
  static constexpr std::string_view kWord = "parallel_plane";
  static void names(auto& self, auto&& field) {
    field.name("plane", self.plane, Field::kNeeded);
    field.name("through", self.through, Field::kOptional);
    field.number("offset_mm", self.offset_mm);
  }
};
/// The plane about which pairs of points mirror each other best.
struct MirrorPlane {
  std::vector<std::pair<std::string, std::string>> pairs;
  friend bool operator==(const MirrorPlane&, const MirrorPlane&) = default;
  static constexpr std::string_view kWord = "mirror_plane";
  static void names(auto& self, auto&& field) { field.pairs("pairs", self.pairs); }
};

using ShapeOrigin = std::variant<SeenEdge, SeenCircle, SeenCylinder, LineThrough, PlaneThrough,
                                 CircleThrough, SphereThrough, CylinderThrough, ConeThrough,
                                 Crossing, MidPlane, ParallelPlane, MirrorPlane>;

/// A named edge, round or plane. Points and shapes share one set of names.
struct Shape {
  std::string name;
  ShapeOrigin origin;
  std::string kind;  ///< name of a PointKind, of seen shapes: how well their place is defined
  friend bool operator==(const Shape&, const Shape&) = default;
};

/// Where a seen shape passes in a photo. Anywhere along it: only the departure across counts.
struct ShapeMark {
  std::string photo;  ///< name of the photo
  std::string shape;  ///< name of a seen shape
  Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
  /// Of a cylinder: 1 or 2, which of the two sides of its outline in this photo; which one is
  /// called 1 is free in each photo. Else 0.
  int side = 0;
  double sigma_px = 0.5;  ///< across the shape, a priori
  MarkSource source = MarkSource::kByHand;
  bool set_aside = false;  ///< kept but unused
  friend bool operator==(const ShapeMark&, const ShapeMark&) = default;
};

/// The user's own axes: heights z from a plane (waterline, ground), x along a line from the origin,
/// y across from that line. Names of the dossier.
struct AxesNames {
  std::string plane, line, origin;
  friend bool operator==(const AxesNames&, const AxesNames&) = default;
};

/// Measured by marks of its own, as an unknown of the adjustment.
[[nodiscard]] bool is_seen(const ShapeOrigin& origin);
/// Names of the points and shapes that a shape is made from.
[[nodiscard]] std::vector<std::string> names_of(const ShapeOrigin& origin);
/// The word in files: "seen_edge", "plane", "crossing" …
[[nodiscard]] std::string origin_word(const ShapeOrigin& origin);

}  // namespace measure
