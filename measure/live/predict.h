// Where a point should be seen in a photo in which it is not marked yet.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "measure/bundle/survey.h"
#include "measure/dossier/dossier.h"
#include "measure/live/trace.h"

namespace measure {

/// Whether a point can be seen in a photo, guessed from the solved geometry: a guess, for marks
/// alone know no surface.
enum class Sight {
  kLikely,   ///< seen from nearby directions, and nothing known stands before it
  kUnclear,  ///< nothing speaks for or against
  kHidden,   ///< the directions from which it was marked lie far off, or marked points stand before
  kOutside,  ///< outside the frame, or behind the camera
  kUnknown,  ///< photo or point not oriented
};

struct PredictedPlace {
  Sight sight = Sight::kUnknown;
  std::string reason;  ///< a phrase for a person, to follow the photo's name
  /// Where it should be; nothing where only a line of sight is known, or less.
  std::optional<Eigen::Vector2d> position_px;
  /// Of that place: camera, photo and point, not the marking itself. px².
  Eigen::Matrix2d covariance_px2 = Eigen::Matrix2d::Zero();
  EpipolarCurve epipolar;      ///< where the point has one mark; of that mark
  std::string epipolar_photo;  ///< the photo of that mark
};

/// Asks one survey for many places. Holds references to both arguments: they must outlive it.
class Predictor {
 public:
  Predictor(const Survey& survey, const Dossier& dossier);

  /// @param photo, point  names of the dossier.
  [[nodiscard]] PredictedPlace predict(const std::string& photo, const std::string& point) const;
  /// Only whether it can be seen: no covariance, some microseconds. For filters over many photos.
  [[nodiscard]] Sight sight(const std::string& photo, const std::string& point) const;

 private:
  struct Seen {
    std::string photo;
    Eigen::Vector3d direction;  ///< from the point to the camera, unit length
  };
  struct Neighbour {
    Eigen::Vector2d position_px;
    double depth;
    std::string point;
  };
  struct PhotoGeometry {
    OrientedPhoto oriented;
    Eigen::Matrix3d rotation;
    calib::ImageSize size;
    std::vector<Neighbour> marked;  ///< the points marked in it, as solved
  };

  [[nodiscard]] Sight judge(const PhotoGeometry& photo, const std::string& point,
                            const Eigen::Vector3d& position, std::string* reason) const;

  const Survey& survey_;
  const Dossier& dossier_;
  std::map<std::string, PhotoGeometry> photos_;
  std::map<std::string, Eigen::Vector3d> points_;
  std::map<std::string, std::vector<const Mark*>> marks_;  ///< of each point, not set aside
  double radius_ = 1.0;                                    ///< rms radius of the points
};

/// Axes of the ellipse that holds the true place with probability `p`, and its first axis' angle.
struct ErrorEllipse {
  double semi_major = 0.0, semi_minor = 0.0;
  double angle_rad = 0.0;  ///< of the major axis, from x towards y
};
/// Source: χ² with two degrees of freedom has the quantile −2 ln(1 − p).
[[nodiscard]] ErrorEllipse confidence_ellipse(const Eigen::Matrix2d& covariance, double p = 0.95);

}  // namespace measure
