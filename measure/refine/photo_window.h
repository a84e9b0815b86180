// The pixels a refinement reads: a photo or a part of it, in grey.
#pragma once

#include <optional>
#include <string>

#include <Eigen/Core>
#include <opencv2/core/mat.hpp>

#include "calib/camera/intrinsics.h"

namespace measure {

/// A photo or a part of it. All positions are given and returned in pixels of the whole photo.
struct PhotoWindow {
  cv::Mat pixels;  ///< CV_8UC1 or CV_16UC1
  /// Where the part's top left pixel lies in the photo.
  Eigen::Vector2i offset_px = Eigen::Vector2i::Zero();
};

/// How the photo's grey values come from light: grey = white · (light / white)^(1/exponent).
///
/// A lens blurs light, not grey values: after the curve, the middle grey of an edge lies up to half
/// a blur on its dark side. What is symmetrical (a cross, the centre of a round, a narrow line)
/// does not move. JPEG files of cameras are near 2.2; raw converters can write 1. (Common practice,
/// no source; the sRGB curve of IEC 61966-2-1 is within 0.02 of the power 1/2.2.)
struct GreyCurve {
  double exponent = 2.2;
  double u = 0.3;  ///< standard uncertainty of the exponent; enters the covariance
};

/// What is common to all refinements. The defaults suit photos from a camera, marked by hand.
struct RefineOptions {
  /// How far the result may lie from the position given; above 0, at most 30.
  double radius_px = 6.0;
  /// Half the size of the window; at least 6, at most 60. Without it each shape finds its own.
  std::optional<double> half_window_px;
  GreyCurve curve;
  /// Of the photo: straight edges are then followed as the lens bends them, and circles seen at a
  /// slant are corrected.
  std::optional<calib::Intrinsics> camera;
  /// For rounds: normal of the face that the round lies on, in the camera's frame, either sign.
  std::optional<Eigen::Vector3d> face_normal;

  /// The first rule these options break, or nothing if they can be used.
  [[nodiscard]] std::optional<std::string> first_problem() const;
};

}  // namespace measure
