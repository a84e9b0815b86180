#include "measure/orient/refine.h"

#include <cmath>
#include <vector>

#include "calib/adjust/network.h"
#include "calib/adjust/observations.h"
#include "calib/adjust/solve.h"

namespace measure::internal {

namespace {

/// Whether a mark is in use, and its point before its camera.
bool sees(const MarkTable& table, const Model& model, int index) {
  const UsableMark& mark = table.marks[index];
  return model.in_use[index] && model.holds(mark) &&
         (*model.poses[mark.photo] * *model.points[mark.point]).z() > 0;
}

/// Points that two marks or more hold: a point on one ray would make the normal equations singular.
std::vector<bool> well_held(const MarkTable& table, const Model& model) {
  std::vector<bool> result(table.point_count());
  for (int point = 0; point < table.point_count(); ++point) {
    int marks = 0;
    for (const int index : table.of_point[point]) marks += sees(table, model, index) ? 1 : 0;
    result[point] = marks >= 2;
  }
  return result;
}

/// The first photo's pose and the longest component of one base hold position, rotation and scale.
calib::adjust::Datum minimal_datum(const Model& model,
                                   const std::vector<calib::adjust::BlockId>& poses) {
  calib::adjust::Datum datum;
  int first = -1, farthest = -1, longest = 0;
  double length = 0;
  for (std::size_t photo = 0; photo < poses.size(); ++photo) {
    if (!model.poses[photo]) continue;
    if (first < 0) {
      first = static_cast<int>(photo);
      continue;
    }
    // The second photo's translation under the first one's frame: its components carry the scale.
    const Eigen::Vector3d base = model.poses[photo]->rotation *
                                 (model.poses[first]->centre() - model.poses[photo]->centre());
    int component = 0;
    base.cwiseAbs().maxCoeff(&component);
    if (std::abs(base[component]) > length) {
      length = std::abs(base[component]);
      farthest = static_cast<int>(photo);
      longest = component;
    }
  }
  if (first >= 0) {
    for (int k = 0; k < 6; ++k) datum.held.emplace_back(poses[first], k);
  }
  if (farthest >= 0) datum.held.emplace_back(poses[farthest], 3 + longest);
  return datum;
}

}  // namespace

bool refine(const MarkTable& table, Model& model, const RefineOptions& options) {
  namespace adjust = calib::adjust;
  adjust::Network network;
  const adjust::GroupId group = network.add_group({.name = "marks", .factor_from_residuals = true});
  std::vector<adjust::BlockId> cameras(table.photo_count()), poses(table.photo_count()),
      points(table.point_count());
  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (!model.poses[photo]) continue;
    const CameraPose& pose = *model.poses[photo];
    cameras[photo] = network.add_block({.name = "",
                                        .values = table.cameras[photo].vector(),
                                        .held = std::vector<bool>(calib::kIntrinsicCount, true)});
    poses[photo] = network.add_block(
        {.name = "",
         .values = calib::Pose::from_matrix(pose.rotation, pose.translation).vector(),
         .held = std::vector<bool>(6, false),
         .datum_role = adjust::DatumRole::kPose});
  }
  const std::vector<bool> takes_part = well_held(table, model);
  int observations = 0;
  for (int point = 0; point < table.point_count(); ++point) {
    if (!model.points[point] || !takes_part[point]) continue;
    points[point] = network.add_block({.name = "",
                                       .values = *model.points[point],
                                       .held = std::vector<bool>(3, false),
                                       .datum_role = adjust::DatumRole::kPoint,
                                       .role = adjust::BlockRole::kEliminated});
    for (const int index : table.of_point[point]) {
      const UsableMark& mark = table.marks[index];
      if (!sees(table, model, index)) continue;
      network.add_observation(adjust::mark_observation(mark.position_px, mark.sigma_px),
                              {poses[mark.photo], cameras[mark.photo], points[point]}, group);
      ++observations;
    }
  }
  if (observations == 0) return false;
  const adjust::SolveSummary summary =
      adjust::solve(network, minimal_datum(model, poses),
                    {.max_iterations = options.max_iterations,
                     .function_tolerance = options.function_tolerance,
                     .threads = options.threads,
                     .robust = true,
                     .cancelled = options.cancelled});
  if (summary.termination == adjust::Termination::kFailed ||
      summary.termination == adjust::Termination::kCancelled ||
      summary.termination == adjust::Termination::kNotRun) {
    return false;
  }
  for (int photo = 0; photo < table.photo_count(); ++photo) {
    if (!model.poses[photo]) continue;
    const calib::Pose pose = calib::Pose::from_vector(network.block(poses[photo]).values);
    model.poses[photo] = CameraPose{pose.rotation_matrix(), pose.translation};
  }
  for (int point = 0; point < table.point_count(); ++point) {
    if (model.points[point] && takes_part[point])
      model.points[point] = network.block(points[point]).values;
  }
  return true;
}

}  // namespace measure::internal
