// All files of a sheet, made before any is written: the command and the desk write the same ones.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "calib/board/board_pdf.h"
#include "calib/camera/camera.h"
#include "measure/bundle/survey.h"
#include "measure/dimension/dimension.h"
#include "measure/dossier/dossier.h"
#include "measure/sheet/sheet_content.h"

namespace measure {

enum class SheetPart {
  kDimensions,  ///< dimensions.pdf and dimensions.html
  kTemplates,   ///< templates/: a PDF, an SVG and a DXF of each view at each replica scale
  kData,        ///< data/: CSV, JSON with covariances, PLY and OBJ at the original's and each
                ///< replica's scale
};

struct SheetFilesOptions {
  SheetOptions sheet;
  calib::Paper paper;
  std::set<SheetPart> parts{SheetPart::kDimensions, SheetPart::kTemplates, SheetPart::kData};
  std::string onto;               ///< a plane that templates look onto; empty: the usual views
  std::vector<std::string> draw;  ///< points and shapes of templates; empty: all that matter
  std::function<bool()> cancelled{};
};

struct SheetFile {
  std::string name;  ///< below the folder of the sheet, "templates/1-72 from above.pdf"
  std::string bytes;
};

struct SheetFiles {
  std::vector<SheetFile> files;
  std::string check_sentence;         ///< of the check lengths
  std::vector<std::string> warnings;  ///< what could not be made and why; then the survey's
};

/// The same input gives the same bytes; dates are given, not taken.
///
/// Errors: a Problem where the dimension sheet, or all of a part that was asked for by itself,
///         cannot be made, or it was cancelled.
[[nodiscard]] calib::Result<SheetFiles, calib::Problem> sheet_files(
    const Survey& survey, const Dossier& dossier,
    const std::map<std::string, calib::Camera>& cameras, const SheetFilesOptions& options);

/// Writes them into the folder, which is made where it is missing; files of other names stay. All
/// or none (calib::atomic_write_all). Returns their paths, in the order given.
/// @param stop  true before the first is seen: nothing is written.
///
/// Errors: a Problem naming the file or folder that cannot be written, and the remedy, or that it
///         was stopped.
[[nodiscard]] calib::Result<std::vector<std::filesystem::path>, calib::Problem> write_sheet_files(
    const std::filesystem::path& folder, const SheetFiles& made,
    const std::function<bool()>& stop = {});

}  // namespace measure
