#include "measure/orient/mark_table.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>

#include <Eigen/Geometry>

namespace measure::internal {
namespace {

/// Indices in the order of their names; equal names keep the order given.
template <typename NameOf>
std::vector<int> sorted_by_name(std::size_t count, NameOf name_of) {
  std::vector<int> order(count);
  std::iota(order.begin(), order.end(), 0);
  std::stable_sort(order.begin(), order.end(),
                   [&](int a, int b) { return name_of(a) < name_of(b); });
  return order;
}

std::vector<int> inverse_of(const std::vector<int>& order) {
  std::vector<int> inverse(order.size());
  for (std::size_t i = 0; i < order.size(); ++i) inverse[order[i]] = static_cast<int>(i);
  return inverse;
}

}  // namespace

MarkTable make_mark_table(const OrientationInput& input) {
  MarkTable table;
  table.photo_input =
      sorted_by_name(input.photos.size(), [&](int i) { return input.photos[i].name; });
  table.point_input =
      sorted_by_name(input.point_names.size(), [&](int i) { return input.point_names[i]; });
  const std::vector<int> photo_number = inverse_of(table.photo_input),
                         point_number = inverse_of(table.point_input);
  for (const int photo : table.photo_input) table.cameras.push_back(input.photos[photo].camera);

  for (std::size_t i = 0; i < input.marks.size(); ++i) {
    const MarkToOrient& given = input.marks[i];
    const calib::Intrinsics& camera = input.photos[given.photo].camera;
    const auto ideal = calib::unproject(camera, given.position_px);
    if (!ideal) continue;
    UsableMark mark;
    mark.input = static_cast<int>(i);
    mark.photo = photo_number[given.photo];
    mark.point = point_number[given.point];
    mark.position_px = given.position_px;
    mark.sigma_px = given.sigma_px;
    mark.ideal = *ideal;
    mark.sigma = given.sigma_px / std::sqrt(camera.fx * camera.fy);
    mark.ray = ideal->homogeneous().normalized();
    table.marks.push_back(mark);
  }
  std::stable_sort(table.marks.begin(), table.marks.end(),
                   [](const UsableMark& a, const UsableMark& b) {
                     return a.photo != b.photo ? a.photo < b.photo : a.point < b.point;
                   });
  table.of_photo.resize(input.photos.size());
  table.of_point.resize(input.point_names.size());
  for (std::size_t i = 0; i < table.marks.size(); ++i) {
    table.of_photo[table.marks[i].photo].push_back(static_cast<int>(i));
    table.of_point[table.marks[i].point].push_back(static_cast<int>(i));
  }
  return table;
}

int Model::placed_photos() const {
  return static_cast<int>(
      std::count_if(poses.begin(), poses.end(), [](const auto& p) { return p.has_value(); }));
}

int Model::placed_points() const {
  return static_cast<int>(
      std::count_if(points.begin(), points.end(), [](const auto& p) { return p.has_value(); }));
}

double squared_residual(const UsableMark& mark, const CameraPose& pose,
                        const Eigen::Vector3d& point) {
  const Eigen::Vector3d in_camera = pose * point;
  if (!(in_camera.z() > 0)) return std::numeric_limits<double>::infinity();
  return (in_camera.head<2>() / in_camera.z() - mark.ideal).squaredNorm() /
         (mark.sigma * mark.sigma);
}

double ambiguity_bar(const Tolerance& tolerance, int redundancy, int unknowns) {
  constexpr double kNormal999 = 3.0902;  // 99.9 % point, one-sided
  return std::max(tolerance.ambiguity_chi_square,
                  2 * kNormal999 * std::sqrt(std::max(0, std::min(redundancy, unknowns))));
}

double robust_factor(std::vector<double> squared_residuals) {
  if (squared_residuals.empty()) return 1.0;
  const auto middle =
      squared_residuals.begin() + static_cast<std::ptrdiff_t>(squared_residuals.size() / 2);
  std::nth_element(squared_residuals.begin(), middle, squared_residuals.end());
  return std::sqrt(*middle / (2 * std::numbers::ln2));
}

}  // namespace measure::internal
