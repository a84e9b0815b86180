#include "measure/bundle/survey_network.h"

namespace measure::internal {

using namespace calib::adjust;

SurveyGroup group_of(MarkSource source) {
  switch (source) {
    case MarkSource::kByHand:
      return kMarksByHand;
    case MarkSource::kRefined:
      return kMarksRefined;
    case MarkSource::kImported:
      return kMarksImported;
  }
  return kMarksByHand;
}

SurveyGroup curve_group_of(MarkSource source) {
  return static_cast<SurveyGroup>(group_of(source) - kMarksByHand + kCurvesByHand);
}

SurveyNetwork build_network(const Observed& observed, const Geometry& start,
                            const std::vector<std::string>& photo_names,
                            const std::vector<std::string>& point_names) {
  SurveyNetwork result;
  Network& net = result.network;
  for (int g = 0; g < kSurveyGroupCount; ++g)
    net.add_group({kSurveyGroupNames[g], g <= kLastGroupOfMarks});

  for (std::size_t c = 0; c < observed.cameras.size(); ++c) {
    const auto& camera = observed.cameras[c];
    std::vector<bool> held = camera.held;
    if (camera.use == CameraUse::kFixed) held.assign(calib::kIntrinsicCount, true);
    result.cameras.push_back(net.add_block({"camera " + camera.name, camera.expected, held}));
  }
  for (std::size_t p = 0; p < start.poses.size(); ++p) {
    result.poses.push_back(
        net.add_block({"photo " + photo_names[p], start.poses[p].vector(), {}, DatumRole::kPose}));
  }
  // Bar ends share an observation with each other and stay in the reduced system.
  std::vector<BlockRole> role(start.points.size(), BlockRole::kEliminated);
  for (const auto& bar : observed.bars) role[bar.from] = role[bar.to] = BlockRole::kKept;
  for (std::size_t i = 0; i < start.points.size(); ++i) {
    result.points.push_back(net.add_block(
        {"point " + point_names[i], start.points[i], {}, DatumRole::kPoint, role[i]}));
  }
  for (const auto& scalar : observed.scalars) {
    const BlockId block =
        net.add_block({scalar.name, Eigen::VectorXd::Constant(1, scalar.expected), {}});
    result.scalars.push_back(block);
    const GroupId group{scalar.thermal ? kTemperature : kBars};
    if (scalar.u > 0) {
      net.add_observation(prior_observation(Eigen::VectorXd::Constant(1, scalar.expected),
                                            Eigen::MatrixXd::Constant(1, 1, 1 / scalar.u)),
                          {block}, group);
    } else {
      net.block(block).held[0] = true;  // taken as exact
    }
  }
  for (const auto& mark : observed.marks) {
    result.marks.push_back(net.add_observation(
        mark_observation(mark.position_px, mark.sigma_px),
        {result.poses[mark.photo], result.cameras[observed.photo_camera[mark.photo]],
         result.points[mark.point]},
        GroupId{group_of(mark.source)}));
  }
  for (std::size_t c = 0; c < observed.curves.size(); ++c) {
    const auto& curve = observed.curves[c];
    result.curves.push_back(net.add_block(
        curve_block("shape " + curve.name, curve.kind, curve.frame, start.curves[c])));
  }
  for (const auto& mark : observed.curve_marks) {
    const auto& curve = observed.curves[mark.curve];
    result.curve_marks.push_back(net.add_observation(
        curve_observation({curve.kind, curve.frame, mark.side}, mark.position_px, mark.sigma_px),
        {result.poses[mark.photo], result.cameras[observed.photo_camera[mark.photo]],
         result.curves[mark.curve]},
        GroupId{curve_group_of(mark.source)}));
  }
  const std::vector<bool> in_use = net.blocks_in_use();
  for (std::size_t c = 0; c < observed.cameras.size(); ++c) {
    const auto& camera = observed.cameras[c];
    if (camera.use != CameraUse::kPrior || !in_use[result.cameras[c].index]) continue;
    const Eigen::MatrixXd root = square_root_information(camera.covariance, camera.held);
    if (root.rows() == 0) continue;
    net.add_observation(prior_observation(camera.expected, root), {result.cameras[c]},
                        GroupId{kCameras});
  }
  for (const auto& bar : observed.bars) {
    std::vector<BlockId> blocks{result.points[bar.from], result.points[bar.to]};
    BarTerms terms;
    if (bar.certificate >= 0) {
      terms.certificate_error = true;
      blocks.push_back(result.scalars[bar.certificate]);
    }
    if (bar.expansion >= 0) {
      terms.expansion = true;
      blocks.push_back(result.scalars[bar.expansion]);
      blocks.push_back(result.scalars[bar.temperature]);
    }
    result.bars.push_back(net.add_observation(bar_observation(bar.length_mm, bar.u_own_mm, terms),
                                              blocks, GroupId{kBars}));
  }
  return result;
}

}  // namespace measure::internal
