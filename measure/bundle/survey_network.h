// From what was observed to a network of the adjustment core. For the .cpp files of this room only.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "calib/adjust/curve_observations.h"
#include "calib/adjust/network.h"
#include "calib/adjust/observations.h"
#include "calib/camera/camera.h"
#include "calib/camera/projection.h"
#include "measure/dossier/dossier.h"

namespace measure::internal {

/// All that was observed, by index and in numbers: the network is made from this, and a simulated
/// survey is this with other numbers.
struct Observed {
  struct ObservedMark {
    int photo = -1, point = -1;
    Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
    double sigma_px = 0.5;
    MarkSource source = MarkSource::kByHand;
    int dossier_index = -1;
  };
  struct ObservedCamera {
    std::string name;
    calib::IntrinsicVector expected = calib::IntrinsicVector::Zero();
    calib::IntrinsicMatrix covariance = calib::IntrinsicMatrix::Zero();
    std::vector<bool> held;
    CameraUse use = CameraUse::kPrior;
  };
  struct ObservedBar {
    int from = -1, to = -1;
    double length_mm = 0.0, u_own_mm = 0.0;
    int certificate = -1;                  ///< index into scalars: error common to a certificate
    int expansion = -1, temperature = -1;  ///< indices into scalars
    int dossier_index = -1;
  };
  /// An edge, circle or cylinder that stands.
  struct ObservedCurve {
    std::string name;
    calib::adjust::CurveKind kind = calib::adjust::CurveKind::kEdge;
    calib::adjust::CurveFrame frame;
  };
  struct ObservedCurveMark {
    int photo = -1, curve = -1;
    Eigen::Vector2d position_px = Eigen::Vector2d::Zero();
    double sigma_px = 0.5;
    MarkSource source = MarkSource::kByHand;
    int side = 0;  ///< +1 or −1 of a cylinder, as calib::adjust::Curve has it
    int dossier_index = -1;
  };
  /// A quantity known by its value and u only: certificate error, expansion, temperature.
  struct ObservedScalar {
    std::string name;
    double expected = 0.0, u = 0.0;
    bool thermal = false;  ///< belongs to the budget's temperature, else to the bars
  };

  std::vector<ObservedMark> marks;
  std::vector<ObservedCamera> cameras;
  std::vector<ObservedBar> bars;
  std::vector<ObservedScalar> scalars;
  std::vector<ObservedCurve> curves;
  std::vector<ObservedCurveMark> curve_marks;
  std::vector<int> photo_camera;                           ///< camera of each photo
  int original_temperature = -1, original_expansion = -1;  ///< indices into scalars
};

/// Start values, and values found.
struct Geometry {
  std::vector<calib::Pose> poses;
  std::vector<Eigen::Vector3d> points;
  std::vector<Eigen::VectorXd> curves;  ///< values of each block, as in Observed
};

/// Groups in the order in which every survey's network has them.
enum SurveyGroup {
  kMarksByHand,
  kMarksRefined,
  kMarksImported,
  // Where along an edge a mark is set does not matter, how far beside it does: people set these
  // better or worse than points, so they have factors of their own.
  kCurvesByHand,
  kCurvesRefined,
  kCurvesImported,
  kCameras,
  kBars,
  kTemperature,
  kSurveyGroupCount
};
inline constexpr SurveyGroup kLastGroupOfMarks = kCurvesImported;
inline constexpr const char* kSurveyGroupNames[] = {"marks by hand",
                                                    "marks refined",
                                                    "marks imported",
                                                    "marks on shapes by hand",
                                                    "marks on shapes refined",
                                                    "marks on shapes imported",
                                                    "cameras",
                                                    "bars",
                                                    "temperature"};
inline constexpr const char* kSurveyBudgetNames[] = {
    "marks", "marks", "marks", "marks", "marks", "marks", "cameras", "bars", "temperature"};
[[nodiscard]] SurveyGroup group_of(MarkSource source);
[[nodiscard]] SurveyGroup curve_group_of(MarkSource source);

struct SurveyNetwork {
  calib::adjust::Network network;
  std::vector<calib::adjust::BlockId> cameras, poses, points, scalars, curves;
  std::vector<calib::adjust::ObservationId> marks, bars, curve_marks;  ///< as in Observed
};

/// Photos without a mark and points without one get no block that is in use.
[[nodiscard]] SurveyNetwork build_network(const Observed& observed, const Geometry& start,
                                          const std::vector<std::string>& photo_names,
                                          const std::vector<std::string>& point_names);

}  // namespace measure::internal
