// Changes of a dossier as values: applied, undone and written down alike by the command, the desk
// and the journal.
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "measure/dossier/dossier.h"

namespace measure {

struct SetDossierName {
  std::string name;
  friend bool operator==(const SetDossierName&, const SetDossierName&) = default;
};

struct SetScales {
  std::optional<ScaleRatio> model_scale;
  std::vector<ScaleRatio> replica_scales;
  friend bool operator==(const SetScales&, const SetScales&) = default;
};

/// Of the original on the day; nothing: unknown.
struct SetTemperature {
  std::optional<Uncertain> temperature_C;
  friend bool operator==(const SetTemperature&, const SetTemperature&) = default;
};

/// Of the original's material; nothing: unknown.
struct SetExpansion {
  std::optional<Uncertain> expansion_per_K;
  friend bool operator==(const SetExpansion&, const SetExpansion&) = default;
};

struct AddCamera {
  CameraEntry camera;
  friend bool operator==(const AddCamera&, const AddCamera&) = default;
};
struct RemoveCamera {
  std::string camera;
  friend bool operator==(const RemoveCamera&, const RemoveCamera&) = default;
};
struct SetCameraUse {
  std::string camera;
  CameraUse use = CameraUse::kPrior;
  friend bool operator==(const SetCameraUse&, const SetCameraUse&) = default;
};
/// The same camera, calibrated anew.
struct SetCameraFile {
  std::string camera, file, sha256;
  friend bool operator==(const SetCameraFile&, const SetCameraFile&) = default;
};

struct AddPhoto {
  Photo photo;
  friend bool operator==(const AddPhoto&, const AddPhoto&) = default;
};
/// With its marks.
struct RemovePhoto {
  std::string photo;
  friend bool operator==(const RemovePhoto&, const RemovePhoto&) = default;
};

/// The photo was taken with another camera of the dossier.
struct SetPhotoCamera {
  std::string photo, camera;
  friend bool operator==(const SetPhotoCamera&, const SetPhotoCamera&) = default;
};
struct SetPhotoEpoch {
  std::string photo;
  std::string epoch;  ///< empty: as visited
  friend bool operator==(const SetPhotoEpoch&, const SetPhotoEpoch&) = default;
};

/// Adds the kind, or gives the one of this name another uncertainty.
struct SetKind {
  PointKind kind;
  friend bool operator==(const SetKind&, const SetKind&) = default;
};
struct RemoveKind {
  std::string kind;
  friend bool operator==(const RemoveKind&, const RemoveKind&) = default;
};

struct AddPoint {
  Point point;
  friend bool operator==(const AddPoint&, const AddPoint&) = default;
};
/// With its marks, its bars, its dimensions and where it is hidden.
struct RenamePoint {
  std::string point, name;
  friend bool operator==(const RenamePoint&, const RenamePoint&) = default;
};
/// With its marks; refused while a bar or a dimension needs it.
struct RemovePoint {
  std::string point;
  friend bool operator==(const RemovePoint&, const RemovePoint&) = default;
};
struct SetPointKind {
  std::string point;
  std::string kind;  ///< empty: none
  friend bool operator==(const SetPointKind&, const SetPointKind&) = default;
};

struct MarkKey {
  std::string photo, point;
  friend auto operator<=>(const MarkKey&, const MarkKey&) = default;
};
/// Adds marks, or replaces those that stand at the same photo and point. A mark takes back the word
/// that its point is hidden there.
struct SetMarks {
  std::vector<Mark> marks;
  friend bool operator==(const SetMarks&, const SetMarks&) = default;
};
struct RemoveMarks {
  std::vector<MarkKey> marks;
  friend bool operator==(const RemoveMarks&, const RemoveMarks&) = default;
};
struct SetAside {
  MarkKey mark;
  bool set_aside = true;
  friend bool operator==(const SetAside&, const SetAside&) = default;
};

/// Says that points are not visible in photos, or takes that back.
struct SetHidden {
  std::vector<Hidden> places;
  bool hidden = true;
  friend bool operator==(const SetHidden&, const SetHidden&) = default;
};

/// Where it stands in the list matters: a shape comes after those that it is made from.
struct AddShape {
  Shape shape;
  std::optional<std::size_t> position;  ///< in the list; nothing: at its end
  friend bool operator==(const AddShape&, const AddShape&) = default;
};
/// With its marks, and in what is made of it.
struct RenameShape {
  std::string shape, name;
  friend bool operator==(const RenameShape&, const RenameShape&) = default;
};
/// With its marks; refused while something is made of it or measured at it.
struct RemoveShape {
  std::string shape;
  friend bool operator==(const RemoveShape&, const RemoveShape&) = default;
};
struct SetShapeKind {
  std::string shape;
  std::string kind;  ///< empty: none
  friend bool operator==(const SetShapeKind&, const SetShapeKind&) = default;
};

/// A mark of a shape is known by where it stands.
struct ShapeMarkKey {
  std::string photo, shape;
  double x_px = 0.0, y_px = 0.0;
  friend auto operator<=>(const ShapeMarkKey&, const ShapeMarkKey&) = default;
};
[[nodiscard]] ShapeMarkKey key_of(const ShapeMark& mark);
/// Adds marks, or replaces those that stand at the same place.
struct SetShapeMarks {
  std::vector<ShapeMark> marks;
  friend bool operator==(const SetShapeMarks&, const SetShapeMarks&) = default;
};
struct RemoveShapeMarks {
  std::vector<ShapeMarkKey> marks;
  friend bool operator==(const RemoveShapeMarks&, const RemoveShapeMarks&) = default;
};
struct SetShapeMarkAside {
  ShapeMarkKey mark;
  bool set_aside = true;
  friend bool operator==(const SetShapeMarkAside&, const SetShapeMarkAside&) = default;
};

/// Nothing: no axes of the user's own.
struct SetAxes {
  std::optional<AxesNames> axes;
  friend bool operator==(const SetAxes&, const SetAxes&) = default;
};

struct AddBar {
  ScaleBar bar;
  friend bool operator==(const AddBar&, const AddBar&) = default;
};
struct RemoveBar {
  std::string bar;
  friend bool operator==(const RemoveBar&, const RemoveBar&) = default;
};

struct AddDimension {
  AskedDimension dimension;
  std::optional<std::size_t> position;  ///< in the list; nothing: at its end
  friend bool operator==(const AddDimension&, const AddDimension&) = default;
};
struct RemoveDimension {
  std::string dimension;
  friend bool operator==(const RemoveDimension&, const RemoveDimension&) = default;
};

struct RenameDimension {
  std::string dimension, name;
  friend bool operator==(const RenameDimension&, const RenameDimension&) = default;
};
/// The largest U that will do for this dimension; nothing: none of its own.
struct SetTolerance {
  std::string dimension;
  std::optional<double> tolerance_mm;
  friend bool operator==(const SetTolerance&, const SetTolerance&) = default;
};

struct Edit;

/// Several edits that stand or fall together.
struct EditGroup {
  std::vector<Edit> edits;
};
bool operator==(const EditGroup& a, const EditGroup& b);

using EditKind =
    std::variant<SetDossierName, SetScales, SetTemperature, SetExpansion, AddCamera, RemoveCamera,
                 SetCameraUse, SetCameraFile, AddPhoto, RemovePhoto, SetPhotoCamera, SetPhotoEpoch,
                 SetKind, RemoveKind, AddPoint, RenamePoint, RemovePoint, SetPointKind, SetMarks,
                 RemoveMarks, SetAside, SetHidden, AddBar, RemoveBar, AddDimension, RemoveDimension,
                 RenameDimension, SetTolerance, EditGroup, AddShape, RenameShape, RemoveShape,
                 SetShapeKind, SetShapeMarks, RemoveShapeMarks, SetShapeMarkAside, SetAxes>;

struct Edit {
  EditKind what;

  template <typename Kind>
    requires std::is_constructible_v<EditKind, Kind>
  Edit(Kind kind) : what(std::move(kind)) {}  // NOLINT: meant to convert
  friend bool operator==(const Edit& a, const Edit& b) { return a.what == b.what; }
};

inline bool operator==(const EditGroup& a, const EditGroup& b) { return a.edits == b.edits; }

/// One mark.
[[nodiscard]] inline Edit set_mark(Mark mark) { return SetMarks{{std::move(mark)}}; }

/// What it does, for a list of edits and for undo: "add photo "left01.jpg"".
[[nodiscard]] std::string describe(const Edit& edit);

}  // namespace measure
