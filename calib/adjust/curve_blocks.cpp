#include "calib/adjust/curve_blocks.h"

#include <Eigen/Geometry>

namespace calib::adjust {

using Eigen::Vector3d;
using Eigen::VectorXd;

namespace {

/// The direction with axis component 1, as the block's slopes give it.
Vector3d sloped(const CurveFrame& frame, double towards_first, double towards_second) {
  return frame.axis + towards_first * frame.first + towards_second * frame.second;
}

/// How the two slopes follow when the sloped direction d changes by δd: its axis component is
/// brought back to 1.
Eigen::Vector2d slope_change(const CurveFrame& frame, const Vector3d& d, const Vector3d& change) {
  const Vector3d across = change - d * frame.axis.dot(change);
  return {frame.first.dot(across), frame.second.dot(across)};
}

}  // namespace

CurveFrame CurveFrame::about(const Vector3d& origin, const Vector3d& axis) {
  CurveFrame frame;
  frame.origin = origin;
  frame.axis = axis.normalized();
  frame.first = frame.axis.unitOrthogonal();
  frame.second = frame.axis.cross(frame.first);
  return frame;
}

int curve_size(CurveKind kind) {
  switch (kind) {
    case CurveKind::kEdge:
      return 4;
    case CurveKind::kCircle:
      return 6;
    case CurveKind::kCylinder:
      return 5;
  }
  return 0;
}

CurveGeometry curve_geometry(CurveKind kind, const CurveFrame& frame, const VectorXd& values) {
  CurveGeometry geometry;
  geometry.by_values.setZero(7, values.size());
  const bool circle = kind == CurveKind::kCircle;
  const int slopes = circle ? 3 : 2;
  if (circle) {
    geometry.place = values.head<3>();
    geometry.by_values.topLeftCorner<3, 3>().setIdentity();
  } else {
    geometry.place = frame.origin + values[0] * frame.first + values[1] * frame.second;
    geometry.by_values.block<3, 1>(0, 0) = frame.first;
    geometry.by_values.block<3, 1>(0, 1) = frame.second;
  }
  const Vector3d d = sloped(frame, values[slopes], values[slopes + 1]);
  const double length = d.norm();
  geometry.direction = d / length;
  const Eigen::Matrix3d across =
      (Eigen::Matrix3d::Identity() - geometry.direction * geometry.direction.transpose()) / length;
  geometry.by_values.block<3, 1>(3, slopes) = across * frame.first;
  geometry.by_values.block<3, 1>(3, slopes + 1) = across * frame.second;
  if (kind != CurveKind::kEdge) {
    geometry.radius = values[values.size() - 1];
    geometry.by_values(6, values.size() - 1) = 1;
  }
  return geometry;
}

VectorXd curve_values(CurveKind kind, const CurveFrame& frame, const Vector3d& place,
                      const Vector3d& direction, double radius) {
  VectorXd values(curve_size(kind));
  const Vector3d d = direction / frame.axis.dot(direction);
  const bool circle = kind == CurveKind::kCircle;
  if (circle) {
    values.head<3>() = place;
  } else {
    const Vector3d from_origin = place - frame.origin;
    const Vector3d beside = from_origin - d * frame.axis.dot(from_origin);
    values[0] = frame.first.dot(beside);
    values[1] = frame.second.dot(beside);
  }
  const int slopes = circle ? 3 : 2;
  values[slopes] = frame.first.dot(d);
  values[slopes + 1] = frame.second.dot(d);
  if (kind != CurveKind::kEdge) values[values.size() - 1] = radius;
  return values;
}

Block curve_block(std::string name, CurveKind kind, const CurveFrame& frame, VectorXd values) {
  Block block{std::move(name), std::move(values), {}, DatumRole::kOwn};
  block.motions = [kind, frame](const VectorXd& at, const Vector3d& centre, double radius) {
    const bool circle = kind == CurveKind::kCircle;
    const int slopes = circle ? 3 : 2;
    const Vector3d place =
        circle ? Vector3d(at.head<3>())
               : Vector3d(frame.origin + at[0] * frame.first + at[1] * frame.second);
    const Vector3d d = sloped(frame, at[slopes], at[slopes + 1]);
    Eigen::MatrixXd motions = Eigen::MatrixXd::Zero(at.size(), 7);
    for (int m = 0; m < 7; ++m) {
      const Vector3d unit = m < 6 ? Vector3d(Vector3d::Unit(m % 3)) : Vector3d(Vector3d::Zero());
      Vector3d place_change = unit, direction_change = Vector3d::Zero();
      if (m >= 3 && m < 6) {
        place_change = unit.cross(place - centre) / radius;
        direction_change = unit.cross(d) / radius;
      } else if (m == 6) {
        place_change = (place - centre) / radius;
      }
      if (circle) {
        motions.block<3, 1>(0, m) = place_change;
      } else {
        // The place slides along the axis, back beside the frame's origin.
        motions.block<2, 1>(0, m) = slope_change(frame, d, place_change);
      }
      motions.block<2, 1>(slopes, m) = slope_change(frame, d, direction_change);
    }
    if (kind != CurveKind::kEdge) motions(at.size() - 1, 6) = at[at.size() - 1] / radius;
    return motions;
  };
  return block;
}

}  // namespace calib::adjust
