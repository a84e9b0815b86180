// The survey in space, drawn by QPainter: cameras, points with their error ellipsoids, bars,
// dimensions.
#pragma once

#include <QPainter>
#include <QPointF>
#include <QRectF>
#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "tools/desk/session/desk_session.h"

namespace desk {

/// From where the scene is looked at: about a centre, with what is up on the original kept up.
struct StandViewpoint {
  double azimuth_rad = 0.6, elevation_rad = 0.45;
  double distance = 3.0;  ///< in radii of the scene
  Eigen::Vector3d centre = Eigen::Vector3d::Zero();
};

/// What a click hit.
struct StandHit {
  std::string point, photo;  ///< one of both, or neither
};

/// A copy of what is to be drawn, taken from one survey; paints itself onto any surface.
class StandScene {
 public:
  /// Takes what the session knows now. The viewpoint stays, unless the scene was empty before.
  void take(const DeskSession& session);
  [[nodiscard]] bool is_empty() const { return points_.empty(); }

  /// Position where a new photo would help, object frame; nothing: none is shown.
  void suggest(std::optional<Eigen::Vector3d> camera, const Eigen::Vector3d& looking_at);

  void turn(double azimuth_rad, double elevation_rad);
  void zoom(double factor);
  /// By parts of the height of the surface.
  void shift(double right, double up);
  /// All points and cameras in sight.
  void show_all();
  /// The point in the middle.
  void centre_on(const std::string& point);

  /// By how much the ellipsoids are larger than the 95 % ones; stated in the picture.
  [[nodiscard]] double exaggeration() const { return exaggeration_; }
  void set_exaggeration(double factor);
  bool show_names = false;

  void paint(QPainter& painter, const QRectF& surface, const DeskSession& session) const;
  [[nodiscard]] StandHit hit(const QPointF& at, const QRectF& surface) const;
  /// Where a point is drawn; nothing behind the eye.
  [[nodiscard]] std::optional<QPointF> place_of(const std::string& point,
                                                const QRectF& surface) const;

 private:
  struct PlacedPoint {
    std::string name;
    Eigen::Vector3d position;
    Eigen::Matrix3d covariance;
    bool doubted = false;
  };
  struct PlacedPhoto {
    std::string name;
    Eigen::Vector3d centre;
    std::array<Eigen::Vector3d, 4> corners;  ///< of its frame, at a depth fit for drawing
  };
  struct Stroke {
    Eigen::Vector3d a, b;
    QString label;
    bool is_bar = false;
    std::string dimension;
  };
  struct Eye {
    Eigen::Matrix3d rotation;
    Eigen::Vector3d centre;
    double focal_px;
    QPointF middle;
    [[nodiscard]] Eigen::Vector3d seen(const Eigen::Vector3d& x) const {
      return rotation * (x - centre);
    }
    [[nodiscard]] std::optional<QPointF> place(const Eigen::Vector3d& x) const;
  };
  [[nodiscard]] Eye eye(const QRectF& surface) const;

  std::vector<PlacedPoint> points_;
  std::vector<PlacedPhoto> photos_;
  std::vector<Stroke> strokes_;
  std::optional<Eigen::Vector3d> suggested_;
  Eigen::Vector3d suggested_target_ = Eigen::Vector3d::Zero();
  Eigen::Vector3d middle_ = Eigen::Vector3d::Zero(), up_ = Eigen::Vector3d::UnitZ();
  Eigen::Vector3d side_ = Eigen::Vector3d::UnitX(), front_ = Eigen::Vector3d::UnitY();
  double radius_ = 1.0, reach_ = 1.0;  ///< of the points, and of points and cameras
  double lowest_ = 0.0;                ///< of the points along up_, from middle_
  double exaggeration_ = 0.0;          ///< 0: not chosen yet
  StandViewpoint viewpoint_;
};

}  // namespace desk
