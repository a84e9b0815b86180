// One body + lens + focus setting, as calibrated.
#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "calib/camera/intrinsics.h"

namespace calib {

/// What a photo's EXIF says of body and lens; empty where it is silent.
struct LensAndBody {
  std::string make, model, lens;
  std::optional<double> focal_length_mm;
  std::optional<double> focal_length_35mm;  ///< EXIF FocalLengthIn35mmFilm
  friend bool operator==(const LensAndBody&, const LensAndBody&) = default;
};

/// A photo that took part in a calibration.
struct CalibrationPhoto {
  std::string file;    ///< name without folder
  std::string sha256;  ///< of the file's bytes, lower-case hex
  bool used = false;
  std::string reason;            ///< why not used; empty where used
  std::optional<double> rms_px;  ///< √(Σ(dx²+dy²)/N)
};

/// The board a camera was calibrated with.
struct BoardRecord {
  int inner_columns = 0, inner_rows = 0;
  double square_mm = 0.0;
  bool shape_estimated = false;
  std::optional<double> flatness_mm;    ///< max − min from the best plane
  std::optional<double> flatness_u_mm;  ///< its standard uncertainty
};

/// A camera with the covariance of its free parameters.
///
/// `covariance` is 9×9 in the order of IntrinsicIndex (units: products of the parameters' units),
/// already scaled by the calibration's own s0; rows and columns of held parameters are zero and
/// mean "not varied", never "exactly known".
struct Camera {
  std::string name;
  ImageSize image_size;
  Intrinsics intrinsics;
  std::array<bool, kIntrinsicCount> held{};
  IntrinsicMatrix covariance = IntrinsicMatrix::Zero();
  LensAndBody lens_and_body;
  std::string date;  ///< ISO 8601, when it was calibrated
  double rms_px = 0.0;
  double sigma0 = 0.0;  ///< per coordinate, relative to the assumed corner σ
  int redundancy = 0;
  std::vector<CalibrationPhoto> photos;
  std::optional<BoardRecord> board;
  std::vector<std::string> warnings;
  std::string unknown_keys;  ///< JSON text of keys this version does not know, kept on save
};

}  // namespace calib
