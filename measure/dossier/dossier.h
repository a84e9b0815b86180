// What the user knows about one original: data only, no files, no numbers derived.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/camera/camera.h"
#include "measure/dossier/dimension_kind.h"
#include "measure/dossier/form_kind.h"
#include "measure/dossier/mark_source.h"
#include "measure/dossier/shape.h"

namespace measure {

/// A value with its standard uncertainty, both in the unit that the name says.
struct Uncertain {
  double value = 0.0;
  double u = 0.0;
  friend bool operator==(const Uncertain&, const Uncertain&) = default;
};

/// Where one point is seen in one photo.
struct Mark {
  std::string photo;  ///< name of the photo
  std::string point;  ///< name of the point
  Eigen::Vector2d position_px =
      Eigen::Vector2d::Zero();  ///< (0, 0) is the centre of the top left pixel
  double sigma_px = 0.5;        ///< a coordinate, a priori
  MarkSource source = MarkSource::kByHand;
  bool set_aside = false;  ///< kept but unused
  friend bool operator==(const Mark&, const Mark&) = default;
};

/// Somebody looked and says: this point is not visible in this photo. Never beside a mark there.
struct Hidden {
  std::string photo;  ///< name of the photo
  std::string point;  ///< name of the point
  friend auto operator<=>(const Hidden&, const Hidden&) = default;
};

/// One photograph, never altered.
struct Photo {
  std::string name;  ///< unique in the dossier; the file name without folder unless told otherwise
  std::string file;  ///< path, relative to the dossier folder where it lies inside or near it
  std::string sha256;  ///< of the file's bytes
  calib::ImageSize size;
  std::string camera;  ///< name of a camera of the dossier
  int exif_orientation = 1;
  std::string epoch;  ///< the state of the original it shows; empty: as visited
  friend bool operator==(const Photo&, const Photo&) = default;
};

/// How the adjustment treats a camera.
enum class CameraUse { kFixed, kPrior, kSelfCalibrated };

/// A camera of the dossier: where its file lies and how it is used.
struct CameraEntry {
  std::string name;
  std::string file;    ///< relative to the dossier folder
  std::string sha256;  ///< of the camera file
  CameraUse use = CameraUse::kPrior;
  friend bool operator==(const CameraEntry&, const CameraEntry&) = default;
};

/// What kind of place a point is; its definition uncertainty is common to all photos.
struct PointKind {
  std::string name;  ///< "target", "moulded edge", "painted edge" …
  double definition_u_mm =
      0;  ///< standard uncertainty of where the place is on the original, a coordinate
  friend bool operator==(const PointKind&, const PointKind&) = default;
};

/// A named place on the original.
struct Point {
  std::string name;
  std::string kind;  ///< name of a PointKind; empty: no definition uncertainty
  friend bool operator==(const Point&, const Point&) = default;
};

/// A known length between two points.
///
/// length_mm holds at 20 °C where expansion_per_K is given, else at the temperature of the day.
/// u splits into the bar's own and what it shares with all bars of the same certificate.
struct ScaleBar {
  std::string name;
  std::string from, to;  ///< names of points
  double length_mm = 0.0;
  double u_own_mm = 0.0;
  double u_common_mm = 0.0;
  std::string certificate;  ///< id; bars with the same id share the common part
  std::optional<Uncertain> expansion_per_K;
  std::optional<Uncertain> temperature_C;  ///< of the bar on the day
  bool check_only = false;                 ///< a CHECK length: never used in the solution
  friend bool operator==(const ScaleBar&, const ScaleBar&) = default;
};

/// A ratio 1:n with its uncertainty; n = 48 for 1:48.
struct ScaleRatio {
  double denominator = 1.0;
  double u = 0.0;  ///< standard uncertainty of the denominator
  friend bool operator==(const ScaleRatio&, const ScaleRatio&) = default;
};

struct AskedDimension {
  std::string name;
  DimensionKind kind;
  /// The largest U that will do, where this dimension has one of its own; of lengths only.
  std::optional<double> tolerance_mm = std::nullopt;
  friend bool operator==(const AskedDimension&, const AskedDimension&) = default;
};

/// All that is known about one original.
struct Dossier {
  std::string name;
  std::optional<ScaleRatio> model_scale;   ///< model : full scale
  std::vector<ScaleRatio> replica_scales;  ///< replica : full scale
  std::vector<CameraEntry> cameras;
  std::vector<Photo> photos;
  std::vector<PointKind> point_kinds;
  std::vector<Point> points;
  std::vector<Mark> marks;
  std::vector<Hidden> hidden;
  std::vector<Shape> shapes;  ///< each after those that it is made from
  std::vector<ShapeMark> shape_marks;
  std::optional<AxesNames> axes;
  std::vector<ScaleBar> bars;
  std::vector<AskedDimension> dimensions;
  std::optional<Uncertain> temperature_C;    ///< of the original on the day
  std::optional<Uncertain> expansion_per_K;  ///< of the original's material
  std::string unknown_keys;  ///< JSON text that this version does not know, kept on save

  friend bool operator==(const Dossier&, const Dossier&) = default;
  [[nodiscard]] const Photo* find_photo(const std::string& photo_name) const;
  [[nodiscard]] const Point* find_point(const std::string& point_name) const;
  [[nodiscard]] const Shape* find_shape(const std::string& shape_name) const;
  [[nodiscard]] const CameraEntry* find_camera(const std::string& camera_name) const;
};

/// What the point or shape of this name is in space; nothing where there is none, or where what it
/// is made from cannot be.
[[nodiscard]] std::optional<FormKind> form_of(const Dossier& dossier, const std::string& name);
/// "point", "line" …: for sentences.
[[nodiscard]] std::string form_word(FormKind form);
/// Points that the named points and shapes rest on: themselves, and those that shapes are fitted to
/// or constructed from, each once, in the order met. Seen shapes rest on none.
[[nodiscard]] std::vector<std::string> points_behind(const Dossier& dossier,
                                                     const std::vector<std::string>& names);
/// Seen shapes that the names rest on, likewise.
[[nodiscard]] std::vector<std::string> seen_shapes_behind(const Dossier& dossier,
                                                          const std::vector<std::string>& names);

}  // namespace measure
