// What can be asked: each kind of dimension as a struct that names points and shapes of the
// dossier.
//
// A kind tells its word in files and, in names(), which fields it has; files, edits, renaming and
// the checks of names follow from that. A new kind needs its struct here, its place in
// DimensionKind, and its function in measure/dimension.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace measure {

/// Whether a field may stay empty.
enum class Field { kNeeded, kOptional };

// names(self, field) calls, for each field in order:
//   field.name(key, std::string&, Field)  the name of a point or a shape
//   field.names(key, std::vector<std::string>&)  several
//   field.word(key, std::string&)  one word that is no name
// with what is const of a const kind.

/// Between two points or shapes, each where it is nearest to the other: of a line or cylinder its
/// axis, of a circle or sphere the centre. Never negative.
struct Distance {
  std::string from, to;
  friend bool operator==(const Distance&, const Distance&) = default;
  static constexpr std::string_view kWord = "distance";
  static void names(auto& self, auto&& field) {
    field.name("from", self.from, Field::kNeeded);
    field.name("to", self.to, Field::kNeeded);
  }
};

/// Signed length of (to − from) along the direction axis_from → axis_to, or along that of the shape
/// axis_from where axis_to is empty.
struct DistanceAlong {
  std::string from, to, axis_from, axis_to;
  friend bool operator==(const DistanceAlong&, const DistanceAlong&) = default;
  static constexpr std::string_view kWord = "along";
  static void names(auto& self, auto&& field) {
    field.name("from", self.from, Field::kNeeded);
    field.name("to", self.to, Field::kNeeded);
    field.name("axis_from", self.axis_from, Field::kNeeded);
    field.name("axis_to", self.axis_to, Field::kOptional);
  }
};

/// At `vertex`, between the directions to the other two: 0 to 180°.
struct Angle {
  std::string first, vertex, second;
  friend bool operator==(const Angle&, const Angle&) = default;
  static constexpr std::string_view kWord = "angle";
  static void names(auto& self, auto&& field) {
    field.name("first", self.first, Field::kNeeded);
    field.name("vertex", self.vertex, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};

/// Between the directions of two shapes, whichever way they point: 0 to 90°.
struct AngleBetween {
  std::string first, second;
  friend bool operator==(const AngleBetween&, const AngleBetween&) = default;
  static constexpr std::string_view kWord = "angle_between";
  static void names(auto& self, auto&& field) {
    field.name("first", self.first, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};

/// Of a point from the line through two, or from the shape line_from where line_to is empty.
struct OffsetFromLine {
  std::string point, line_from, line_to;
  friend bool operator==(const OffsetFromLine&, const OffsetFromLine&) = default;
  static constexpr std::string_view kWord = "offset_line";
  static void names(auto& self, auto&& field) {
    field.name("point", self.point, Field::kNeeded);
    field.name("line_from", self.line_from, Field::kNeeded);
    field.name("line_to", self.line_to, Field::kOptional);
  }
};

/// Signed: positive on the side to which (p1 − p0) × (p2 − p0) of the first three plane points
/// shows. More than three points: the best plane through them. One name: a plane of the dossier,
/// positive on the side of its normal.
struct OffsetFromPlane {
  std::string point;
  std::vector<std::string> plane;
  friend bool operator==(const OffsetFromPlane&, const OffsetFromPlane&) = default;
  static constexpr std::string_view kWord = "offset_plane";
  static void names(auto& self, auto&& field) {
    field.name("point", self.point, Field::kNeeded);
    field.names("plane", self.plane);
  }
};

/// Between two nearly parallel planes, lines or axes, from the middle of each to the other.
struct Gap {
  std::string first, second;
  friend bool operator==(const Gap&, const Gap&) = default;
  static constexpr std::string_view kWord = "gap";
  static void names(auto& self, auto&& field) {
    field.name("first", self.first, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};

/// Of a circle, sphere or cylinder.
struct Radius {
  std::string shape;
  friend bool operator==(const Radius&, const Radius&) = default;
  static constexpr std::string_view kWord = "radius";
  static void names(auto& self, auto&& field) { field.name("shape", self.shape, Field::kNeeded); }
};
struct Diameter {
  std::string shape;
  friend bool operator==(const Diameter&, const Diameter&) = default;
  static constexpr std::string_view kWord = "diameter";
  static void names(auto& self, auto&& field) { field.name("shape", self.shape, Field::kNeeded); }
};

/// The full angle at the apex of a cone.
struct ConeAngle {
  std::string shape;
  friend bool operator==(const ConeAngle&, const ConeAngle&) = default;
  static constexpr std::string_view kWord = "cone_angle";
  static void names(auto& self, auto&& field) { field.name("shape", self.shape, Field::kNeeded); }
};

/// From point to point, all legs together.
struct ChainLength {
  std::vector<std::string> points;
  friend bool operator==(const ChainLength&, const ChainLength&) = default;
  static constexpr std::string_view kWord = "chain";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};

/// Along a circle between the places nearest to two points: through `via`, or the shorter way.
struct ArcLength {
  std::string circle, from, to, via;
  friend bool operator==(const ArcLength&, const ArcLength&) = default;
  static constexpr std::string_view kWord = "arc";
  static void names(auto& self, auto&& field) {
    field.name("circle", self.circle, Field::kNeeded);
    field.name("from", self.from, Field::kNeeded);
    field.name("to", self.to, Field::kNeeded);
    field.name("via", self.via, Field::kOptional);
  }
};

/// Spacing of a row of points in order: the slope of the best straight line through their places
/// along the row.
struct RowPitch {
  std::vector<std::string> points;
  friend bool operator==(const RowPitch&, const RowPitch&) = default;
  static constexpr std::string_view kWord = "pitch";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};
/// How regular the row is: the largest departure along it from an even spacing. Never negative.
struct RowDeparture {
  std::vector<std::string> points;
  friend bool operator==(const RowDeparture&, const RowDeparture&) = default;
  static constexpr std::string_view kWord = "row_departure";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};

/// Of the planar outline through points in order, closed from the last to the first.
struct OutlineArea {
  std::vector<std::string> points;
  friend bool operator==(const OutlineArea&, const OutlineArea&) = default;
  static constexpr std::string_view kWord = "area";
  static void names(auto& self, auto&& field) { field.names("points", self.points); }
};

/// A coordinate in the model axes: "x", "y" or "z". Signed.
struct Coordinate {
  std::string item;
  std::string axis;
  friend bool operator==(const Coordinate&, const Coordinate&) = default;
  static constexpr std::string_view kWord = "ordinate";
  static void names(auto& self, auto&& field) {
    field.name("item", self.item, Field::kNeeded);
    field.word("axis", self.axis);
  }
};

/// How far `second` lies from where `first` is mirrored to. Never negative.
struct MirrorDeparture {
  std::string mirror, first, second;
  friend bool operator==(const MirrorDeparture&, const MirrorDeparture&) = default;
  static constexpr std::string_view kWord = "mirror_departure";
  static void names(auto& self, auto&& field) {
    field.name("mirror", self.mirror, Field::kNeeded);
    field.name("first", self.first, Field::kNeeded);
    field.name("second", self.second, Field::kNeeded);
  }
};

using DimensionKind =
    std::variant<Distance, DistanceAlong, Angle, OffsetFromLine, OffsetFromPlane, AngleBetween, Gap,
                 Radius, Diameter, ConeAngle, ChainLength, ArcLength, RowPitch, RowDeparture,
                 OutlineArea, Coordinate, MirrorDeparture>;

/// Names of the points and shapes that a dimension needs, in its own order, possibly repeated.
[[nodiscard]] std::vector<std::string> names_of(const DimensionKind& kind);
/// The word in files: "distance", "along" …
[[nodiscard]] std::string kind_word(const DimensionKind& kind);
/// 1 for lengths, 2 for areas, 0 for angles.
[[nodiscard]] int length_exponent(const DimensionKind& kind);

}  // namespace measure
