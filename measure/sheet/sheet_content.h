// All that a dimension sheet says, before it is set on paper or a page: the same for both.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/base/units.h"
#include "calib/camera/camera.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dimension/quantity_text.h"
#include "measure/dossier/dossier.h"
#include "measure/sheet/photo_drawing.h"

namespace measure {

struct SheetOptions {
  std::string date;               ///< as it shall stand there; empty: not told
  std::string measured_by;        ///< empty: not told
  std::string dossier;            ///< how the dossier is called, such as its folder's name
  std::string fingerprint;        ///< hash of what the dossier says
  std::vector<std::string> only;  ///< names of the dimensions to show; empty: all
  TextUnit unit = TextUnit::kMm;  ///< of lengths on paper, and first on the page
  int denominator = 64;           ///< smallest fraction of an inch
  double tolerance_mm = 0.1;      ///< of lengths without one of their own: largest U
  double tolerance_rad = 0.2 / calib::kDegreesPerRadian;  ///< of angles
  /// Where a photo's file lies.
  std::function<std::filesystem::path(const Photo&)> photo_file;
  /// Tells how far the work is, 0 to 1, with what is being done. Called from one thread at a time.
  std::function<void(double, const std::string&)> progress;
  std::function<bool()> cancelled;
};

struct SheetFact {
  std::string head, text;
};

/// A known length that was not used, or one that was.
struct SheetKnownLength {
  std::string name;
  bool check_only = false;
  std::string certified, found;  ///< with unit; certified with its U
  std::string error;             ///< found − certified ± U; empty where not compared
  std::string error_over_U;      ///< "0.4"; empty where not compared
  bool within = true;            ///< |error| ≤ U
  std::string remark;            ///< why it was not compared, or what is wrong; may be empty
};

struct SheetScale {
  std::string key;   ///< as in DimensionResult::scale
  std::string head;  ///< "original", "full size", "replica 1:72"
};

struct SheetUnit {
  TextUnit unit = TextUnit::kMm;
  std::string word;  ///< as typed: "in-fraction"
  std::string head;  ///< "inches, fractions"
};

struct SheetShare {
  std::string name;
  std::string detail;  ///< of a mark its photo, of a camera the hash of its file
  double share = 0.0;  ///< of the variance of the original's dimension
};

struct SheetDimension {
  int number = 0;  ///< from 1, in the order asked
  std::string name;
  std::string kind;      ///< as people read it: "offset from a plane"
  std::string sentence;  ///< what is measured: from "…" to "…"
  std::string symbol;    ///< before the value in a drawing: "Ø " of a diameter, "R " of a radius
  std::string problem;   ///< a sentence where there is no value
  std::string note;      ///< a remark on the value; may be empty
  DimensionUnit unit = DimensionUnit::kMillimetre;
  double value = 0.0, U = 0.0;      ///< of the original: mm, mm², degrees, or a ratio; to sort by
  std::optional<double> tolerance;  ///< largest U that will do, mm or degrees
  bool own_tolerance = false;       ///< the dimension has one of its own
  bool weak = false;                ///< no value, or U above the tolerance
  bool is_interval = false;         ///< an interval stands in the place of ± U
  /// Value ± U with its unit, [scale][unit]; one unit only where it makes no difference.
  std::vector<std::vector<std::string>> texts;
  std::string k, effective_dof;             ///< "2.01", "∞"
  std::vector<std::string> reliability;     ///< [unit], of the original; empty where none
  std::vector<SheetShare> budget;           ///< by group, those that count, largest first
  std::vector<SheetShare> photos;           ///< by photo, largest first
  std::vector<SheetShare> marks;            ///< the strongest; name: point, detail: photo
  std::vector<SheetShare> others;           ///< bars, cameras, temperature, definition
  std::vector<std::string> weak_sentences;  ///< why it is weak, and what would help
  std::vector<std::size_t> pictures;        ///< that show it with its text
  std::vector<std::size_t> also_in;         ///< others that it can be shown in
  [[nodiscard]] const std::string& text(std::size_t scale, std::size_t unit_index) const;
};

struct SheetPicture {
  std::string photo, sha256, camera;
  bool is_part = false;                            ///< less than the whole photo
  Eigen::Vector2d size = Eigen::Vector2d::Zero();  ///< kPictureSide for the longer side
  std::string jpeg;
  calib::ImageSize jpeg_size;
  std::vector<DrawnDimension> drawn;  ///< by index of SheetContent::dimensions
  std::vector<DrawnDimension> also;   ///< shown on demand, each by itself
};

struct SheetCamera {
  std::string name;
  std::string what;  ///< body and lens, as far as known
  std::string use;   ///< how the survey used it, with what it was found to be
  std::string file, sha256;
};

struct SheetPhoto {
  std::string name, sha256, camera;
  std::string state;  ///< "31 marks, 0.42 px rms", or why it is not oriented
};

struct SheetDoubt {
  std::string point, photo;
  std::string text;  ///< how it failed
};

struct SheetContent {
  std::string original;
  std::string date, measured_by;
  std::vector<SheetFact> facts;                 ///< the title block
  std::vector<SheetKnownLength> known_lengths;  ///< check lengths first
  std::string check_sentence;                   ///< with which the sheet opens
  bool checks_agree = true;
  std::vector<SheetScale> scales;
  std::vector<SheetUnit> units;
  std::size_t first_unit = 0;  ///< the one asked for
  double tolerance_mm = 0.1, tolerance_deg = 0.2;
  std::vector<SheetDimension> dimensions;
  std::vector<SheetPicture> pictures;
  std::vector<SheetCamera> cameras;
  std::vector<SheetPhoto> photos;
  std::vector<SheetDoubt> doubted;
  std::vector<std::string> weak_spots;  ///< those that belong to no dimension
  std::vector<std::string> warnings;
  std::vector<std::string> reading;  ///< how the numbers are meant
  std::vector<std::string> cautions;
};

/// Gathers what a sheet says, chooses the photographs and draws the dimensions into them.
///
/// @param results  evaluate_dimensions() of the same survey and dossier.
/// Errors: kInput  a name of `only` is no dimension; a photo that is shown cannot be read, or is
/// not
///                 the one that was added;
///         kOurs   `cancelled` said so.
[[nodiscard]] calib::Result<SheetContent, calib::Problem> gather_sheet(
    const Survey& survey, const Dossier& dossier,
    const std::map<std::string, calib::Camera>& cameras,
    const std::vector<DimensionResult>& results, const SheetOptions& options);

/// What stands on the plate of a label: the number of the dimension, and its value with its symbol.
[[nodiscard]] std::string label_number(const SheetDimension& dimension);
[[nodiscard]] std::string label_value(const SheetDimension& dimension, std::size_t scale,
                                      std::size_t unit_index);

/// "12.3 %", or "below 0.1 %".
[[nodiscard]] std::string share_text(double share);

}  // namespace measure
