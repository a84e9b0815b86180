// The parameters of one camera: pinhole with Brown–Conrady distortion.
#pragma once

#include <array>
#include <string_view>

#include <Eigen/Core>

namespace calib {

inline constexpr int kIntrinsicCount = 9;
using IntrinsicVector = Eigen::Matrix<double, kIntrinsicCount, 1>;
using IntrinsicMatrix = Eigen::Matrix<double, kIntrinsicCount, kIntrinsicCount>;

/// Where each parameter stands in an IntrinsicVector; the order of k1 k2 p1 p2 k3 is OpenCV's.
enum IntrinsicIndex { kFx, kFy, kCx, kCy, kK1, kK2, kP1, kP2, kK3 };

/// Names as they appear in files, in the order of IntrinsicIndex.
inline constexpr std::array<std::string_view, kIntrinsicCount> kIntrinsicNames = {
    "fx", "fy", "cx", "cy", "k1", "k2", "p1", "p2", "k3"};

/// Focal lengths and principal point in pixels, distortion without unit.
///
/// Pixels: the centre of the top left pixel is (0, 0), x right, y down; the camera looks along +z.
/// Distortion maps the ideal to the distorted position in normalised coordinates:
///   x_d = x (1 + k1 r² + k2 r⁴ + k3 r⁶) + 2 p1 x y + p2 (r² + 2x²)
///   y_d = y (1 + k1 r² + k2 r⁴ + k3 r⁶) + p1 (r² + 2y²) + 2 p2 x y
/// Source: D. C. Brown, Photogrammetric Engineering 32(3) 1966 and 37(8) 1971; signs as in OpenCV.
struct Intrinsics {
  double fx = 0.0, fy = 0.0, cx = 0.0, cy = 0.0;
  double k1 = 0.0, k2 = 0.0, p1 = 0.0, p2 = 0.0, k3 = 0.0;

  [[nodiscard]] IntrinsicVector vector() const;
  [[nodiscard]] static Intrinsics from_vector(const IntrinsicVector& values);
};

struct ImageSize {
  int width = 0;   ///< pixels, sensor orientation
  int height = 0;  ///< pixels
  friend bool operator==(const ImageSize&, const ImageSize&) = default;
};

}  // namespace calib
