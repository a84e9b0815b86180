// What can be asked of the command: one struct and one function each. How it is typed is in
// *_options.cpp.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "measure/dossier/dossier.h"
#include "tools/cli/terminal.h"

namespace cli {

// Calibration
// ---------------------------------------------------------------------------------------------

struct BoardCommand {
  std::string inner, square, paper = "A4", output;
};
[[nodiscard]] Outcome run(const BoardCommand& command);

struct CalibrateCommand {
  std::vector<std::string> photos;
  std::string inner, square, output;
  std::string name;  ///< empty: the output's
  std::string board_shape = "prior";
  std::vector<std::string> hold;
  std::string residual_picture, coverage_picture;
  bool json = false;
};
[[nodiscard]] Outcome run(const CalibrateCommand& command);

// Dossier
// -------------------------------------------------------------------------------------------------

/// What is true of the original as a whole; empty fields are left as they are.
struct DossierSettings {
  std::string folder, name, model_scale, temperature, temperature_u, expansion, expansion_u;
  std::string model_scale_u;
  std::vector<std::string> replica_scales;
};
struct DossierNew {
  DossierSettings settings;
};
struct DossierSet {
  DossierSettings settings;
};
struct DossierShow {
  std::string folder;
};
[[nodiscard]] Outcome run(const DossierNew& command);
[[nodiscard]] Outcome run(const DossierSet& command);
[[nodiscard]] Outcome run(const DossierShow& command);

struct CameraList {
  std::string folder;
};
struct CameraSetUse {
  std::string folder, camera, use;
};
struct CameraReplace {
  std::string folder, camera, file;
};
[[nodiscard]] Outcome run(const CameraList& command);
[[nodiscard]] Outcome run(const CameraSetUse& command);
[[nodiscard]] Outcome run(const CameraReplace& command);

struct PhotoAdd {
  std::string folder;
  std::vector<std::string> photos;
  std::string camera;  ///< a camera file, or the name of a camera of the dossier
  std::string name, epoch;
  bool copy = false;
};
struct PhotoList {
  std::string folder;
};
struct PhotoRemove {
  std::string folder;
  std::vector<std::string> photos;
};
[[nodiscard]] Outcome run(const PhotoAdd& command);
[[nodiscard]] Outcome run(const PhotoList& command);
[[nodiscard]] Outcome run(const PhotoRemove& command);

struct MarkImport {
  std::string folder, table, pixel_origin, turned_photos;
  std::string sigma = "0.5";
};
struct MarkSet {
  std::string folder, photo, point;
  std::vector<std::string> at;
  std::string sigma = "0.5";
};
struct MarkList {
  std::string folder, photo, point;
};
struct MarkRemove {
  std::string folder, photo, point;
};
struct MarkSetAside {
  std::string folder, photo, point;
  bool take_up = false;
};
struct MarkRefine {
  std::string folder;
  std::vector<std::string> points, photos;
  std::string as = "cross";
  std::string pattern;  ///< name of the photo that a match is taken from
  std::string radius;   ///< empty: 6 pixels; for "auto" what the mark's own σ allows
};
/// Marks at the inner corners of a checkerboard that lies in the photos.
struct MarkBoard {
  std::string folder, inner;
  std::vector<std::string> photos;
};
[[nodiscard]] Outcome run(const MarkImport& command);
[[nodiscard]] Outcome run(const MarkBoard& command);
[[nodiscard]] Outcome run(const MarkSet& command);
[[nodiscard]] Outcome run(const MarkList& command);
[[nodiscard]] Outcome run(const MarkRemove& command);
[[nodiscard]] Outcome run(const MarkSetAside& command);
[[nodiscard]] Outcome run(const MarkRefine& command);

struct PointKindCommand {
  std::string folder, kind, u;
};
struct PointSet {
  std::string folder;
  std::vector<std::string> points;
  std::string kind;
};
struct PointList {
  std::string folder;
};
struct PointRemove {
  std::string folder;
  std::vector<std::string> points;
};
[[nodiscard]] Outcome run(const PointKindCommand& command);
[[nodiscard]] Outcome run(const PointSet& command);
[[nodiscard]] Outcome run(const PointList& command);
[[nodiscard]] Outcome run(const PointRemove& command);

struct BarAdd {
  std::string folder, name, from, to, length, u, u_common, certificate;
  std::string expansion, expansion_u, temperature, temperature_u;
  bool check = false;
};
struct BarList {
  std::string folder;
};
struct BarRemove {
  std::string folder, name;
};
[[nodiscard]] Outcome run(const BarAdd& command);
[[nodiscard]] Outcome run(const BarList& command);
[[nodiscard]] Outcome run(const BarRemove& command);

struct DimensionAdd {
  std::string folder, name;
  std::vector<std::string> distance, along, axis, angle, plane, line, angle_between, gap, chain,
      pitch, row_departure, area, arc, mirror_departure;
  std::string offset, radius, diameter, cone_angle, via, x, y, z;
};
struct DimensionList {
  std::string folder;
};
struct DimensionRemove {
  std::string folder, name;
};
[[nodiscard]] Outcome run(const DimensionAdd& command);
[[nodiscard]] Outcome run(const DimensionList& command);
[[nodiscard]] Outcome run(const DimensionRemove& command);

struct ShapeAdd {
  std::string folder, name, kind;
  bool edge = false, rim = false, outline = false;
  std::vector<std::string> line, plane, circle, sphere, cylinder, cone, crossing, mid_plane, mirror;
  std::string parallel, through, offset;
};
struct ShapeList {
  std::string folder;
};
struct ShapeRemove {
  std::string folder, name;
};
struct ShapeRename {
  std::string folder, name, new_name;
};
struct ShapeMark {
  std::string folder, photo, shape;
  std::vector<std::string> at;
  int side = 0;
  std::string sigma = "0.5";
};
struct ShapeUnmark {
  std::string folder, photo, shape;
  std::vector<std::string> at;
};
struct ShapeSetAside {
  std::string folder, photo, shape;
  std::vector<std::string> at;
  bool take_up = false;
};
struct ShapeMarks {
  std::string folder, shape;
};
struct ShapeImport {
  std::string folder, table, pixel_origin, turned_photos;
  std::string sigma = "0.5";
};
[[nodiscard]] Outcome run(const ShapeAdd& command);
[[nodiscard]] Outcome run(const ShapeList& command);
[[nodiscard]] Outcome run(const ShapeRemove& command);
[[nodiscard]] Outcome run(const ShapeRename& command);
[[nodiscard]] Outcome run(const ShapeMark& command);
[[nodiscard]] Outcome run(const ShapeUnmark& command);
[[nodiscard]] Outcome run(const ShapeSetAside& command);
[[nodiscard]] Outcome run(const ShapeMarks& command);
[[nodiscard]] Outcome run(const ShapeImport& command);

/// Which plane, line and point are the user's own axes.
struct AxesSet {
  std::string folder, plane, line, origin;
};
struct AxesClear {
  std::string folder;
};
[[nodiscard]] Outcome run(const AxesSet& command);
[[nodiscard]] Outcome run(const AxesClear& command);

// Survey
// --------------------------------------------------------------------------------------------------

struct AdjustCommand {
  std::string folder, camera_use;
  bool set_aside_doubted = false, json = false;
};
[[nodiscard]] Outcome run(const AdjustCommand& command);

/// Which size of sheet, strip, rod or tube a dimension is.
struct StockCommand {
  std::string folder, name, kind, table, material;
  bool json = false;
};
[[nodiscard]] Outcome run(const StockCommand& command);

struct ShapesCommand {
  std::string folder, units = "mm";
  bool json = false;
};
struct CoordinatesCommand {
  std::string folder, units = "mm", scale = "original";
  bool json = false;
};
struct ExplainCommand {
  std::string folder, name, units = "mm";
  bool all = false, json = false;
};
[[nodiscard]] Outcome run(const ShapesCommand& command);
[[nodiscard]] Outcome run(const CoordinatesCommand& command);
[[nodiscard]] Outcome run(const ExplainCommand& command);

struct DimensionsCommand {
  std::string folder;
  std::string units = "mm";
  int fraction = 64;
  std::optional<int> monte_carlo;
  std::uint32_t seed = 1;
  bool at_20C = false, json = false;
};
[[nodiscard]] Outcome run(const DimensionsCommand& command);

/// What leaves for the workshop.
struct SheetCommand {
  std::string folder, output;
  std::vector<std::string> replica_scales;  ///< instead of the dossier's, where any is given
  std::string paper = "A4";
  std::vector<std::string> only;   ///< names of dimensions; none: all
  std::vector<std::string> parts;  ///< dimensions, templates, data; none: all
  std::vector<std::string> draw;   ///< points and shapes of templates and data; none: all
  std::string onto;                ///< a plane that templates look onto; empty: the usual views
  std::string date, by;            ///< as they shall stand on the sheet
  std::string unit = "mm";
  int fraction = 64;
  std::string tolerance = "0.1mm";
  bool json = false;
};
[[nodiscard]] Outcome run(const SheetCommand& command);

struct DeskCommand {
  std::string folder;  ///< empty: the desk asks
};
/// Becomes the desk: returns only where it cannot be started.
[[nodiscard]] Outcome run(const DeskCommand& command);

struct VerifyCommand {
  std::string folder;
};
[[nodiscard]] Outcome run(const VerifyCommand& command);

}  // namespace cli
