// Marks from elsewhere: tables with the header photo,point,x,y[,sigma] or
// photo,shape,x,y[,side][,sigma].
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "calib/base/problem.h"
#include "calib/base/result.h"
#include "measure/dossier/dossier.h"

namespace measure {

/// Where the table's pixels begin. Ours: the centre of the top left pixel is (0, 0).
enum class PixelOrigin {
  kCentre,  ///< as ours
  kCorner,  ///< the outer corner of the top left pixel is (0, 0): half a pixel more than ours
};

/// What a photo with an EXIF orientation other than 1 looked like to whoever made the table.
enum class TurnedPhotos {
  kAsStored,  ///< as the sensor had it: our coordinates
  kAsShown,   ///< turned as EXIF says: turned back on import
};

struct MarkTableOptions {
  PixelOrigin pixel_origin = PixelOrigin::kCentre;
  std::optional<TurnedPhotos> turned_photos{};  ///< demanded where a photo is turned
  double default_sigma_px = 0.5;                ///< where the table gives none
};

/// Marks of a table, imported; every photo must be in the dossier, points need not.
///
/// Fields after RFC 4180 (quotes, doubled quotes, commas and line ends inside quotes), with or
/// without a UTF-8 byte order mark, lines ended by CRLF or LF, columns in any order. Errors: a
/// Problem (kInput) naming file, line, item and remedy; then there are no marks at all.
[[nodiscard]] calib::Result<std::vector<Mark>, calib::Problem> read_mark_table(
    std::string_view text, const std::string& file, const Dossier& dossier,
    const MarkTableOptions& options);

/// Likewise of marks on shapes: the header is photo,shape,x,y, with the columns side (1 or 2, of
/// cylinders) and sigma where they are needed. Photos and shapes must be in the dossier.
[[nodiscard]] calib::Result<std::vector<ShapeMark>, calib::Problem> read_shape_mark_table(
    std::string_view text, const std::string& file, const Dossier& dossier,
    const MarkTableOptions& options);

/// From a position in a photo shown as its EXIF orientation (1 to 8) asks to the position on the
/// sensor.
///
/// @param stored  size of the photo as stored.
/// Source: CIPA DC-008 (EXIF 2.32), tag Orientation.
[[nodiscard]] Eigen::Vector2d stored_from_shown(const Eigen::Vector2d& shown_px,
                                                int exif_orientation,
                                                const calib::ImageSize& stored);

}  // namespace measure
