#include "tests/support/simulated_survey.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <numeric>
#include <random>

#include <Eigen/Eigenvalues>
#include <Eigen/Geometry>

namespace testing_support {

using namespace measure;

namespace {

std::string point_name(int i) { return (i < 9 ? "P0" : "P") + std::to_string(i + 1); }

}  // namespace

SimulatedSurvey make_simulated_survey(const SimulatedSurveySpec& spec) {
  SimulatedSurvey survey;
  std::mt19937_64 random(spec.seed);
  std::normal_distribution<double> normal;
  // The layout is the same in every draw: what varies is what the stochastic model says varies.
  std::mt19937_64 layout(7);
  std::uniform_real_distribution<double> uniform(-1, 1);

  calib::Camera camera;
  camera.name = "body";
  camera.image_size = {4000, 3000};
  camera.intrinsics = {3500, 3504, 2010, 1490, -0.08, 0.04, 3e-4, -2e-4, 0.0};
  const calib::IntrinsicVector u =
      (calib::IntrinsicVector() << 0.9, 0.9, 1.1, 1.1, 6e-4, 4e-3, 4e-5, 4e-5, 0.0).finished();
  camera.covariance = u.cwiseAbs2().asDiagonal();
  camera.covariance(0, 1) = camera.covariance(1, 0) = 0.9 * u[0] * u[1];
  camera.covariance(4, 5) = camera.covariance(5, 4) = -0.85 * u[4] * u[5];
  camera.held[calib::kK3] = true;
  // The true camera lies about what the file says, as the file's covariance says it does.
  const Eigen::MatrixXd part = camera.covariance.topLeftCorner<8, 8>();
  const Eigen::MatrixXd root = Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(part).operatorSqrt();
  Eigen::VectorXd draw(8);
  for (int k = 0; k < 8; ++k) draw[k] = normal(random);
  calib::IntrinsicVector truth = camera.intrinsics.vector();
  truth.head<8>() += root * draw;
  survey.true_camera = calib::Intrinsics::from_vector(truth);
  survey.cameras["body"] = camera;

  Dossier& dossier = survey.dossier;
  dossier.name = "simulated";
  dossier.model_scale = ScaleRatio{48, 0};
  dossier.cameras.push_back({"body", "cameras/body.json", "", CameraUse::kPrior});

  for (int i = 0; i < spec.point_count; ++i) {
    Eigen::Vector3d p(220 * uniform(layout), 130 * uniform(layout), 70 * uniform(layout));
    if (spec.planar) p.z() = 0.2 * uniform(layout);
    if (i < 4) p.z() = -70;  // the bars lie on the table
    if (i == 0) p.head<2>() = Eigen::Vector2d(-240, -150);
    if (i == 1) p.head<2>() = Eigen::Vector2d(240, -150);
    if (i == 2) p.head<2>() = Eigen::Vector2d(-250, -120);
    if (i == 3) p.head<2>() = Eigen::Vector2d(-250, 150);
    dossier.points.push_back({point_name(i), ""});
    survey.true_points[point_name(i)] = p;
  }
  // Near-zero cases: two points a tenth of a millimetre apart, one almost on a line, one almost on
  // a plane.
  const auto at = [&](int i) -> Eigen::Vector3d& { return survey.true_points[point_name(i)]; };
  if (spec.point_count >= 16 && !spec.planar) {
    at(9) = at(8) + Eigen::Vector3d(0.06, -0.05, 0.06);
    at(12) = 0.4 * at(10) + 0.6 * at(11) + Eigen::Vector3d(0, 0, 0.05);
    at(15) = (at(13) + at(14)) / 2 + Eigen::Vector3d(0.0, 0.02, 0.0);
  }

  for (int p = 0; p < spec.photo_count; ++p) {
    const double angle = 2 * std::numbers::pi * p / spec.photo_count;
    const double height = p % 2 == 0 ? 260 : 480;
    const Eigen::Vector3d centre(720 * std::cos(angle), 720 * std::sin(angle), height);
    const Eigen::Vector3d z = (-centre).normalized();
    const Eigen::Vector3d x = z.cross(Eigen::Vector3d(0, 0, 1)).normalized();
    Eigen::Matrix3d rotation;
    rotation << x.transpose(), z.cross(x).transpose(), z.transpose();
    // Cameras are turned on their axis now and then: it is what tells the principal point.
    rotation = Eigen::AngleAxisd(p % 3 * std::numbers::pi / 2, Eigen::Vector3d::UnitZ())
                   .toRotationMatrix() *
               rotation;
    survey.true_poses.push_back(calib::Pose::from_matrix(rotation, -rotation * centre));
    Photo photo;
    photo.name = "photo " + std::to_string(p + 1);
    photo.file = photo.name + ".jpg";
    photo.size = {4000, 3000};
    photo.camera = "body";
    dossier.photos.push_back(photo);
  }

  std::uniform_real_distribution<double> share(0, 1), size(6, 40), turn(0, 2 * std::numbers::pi);
  std::vector<int> photos(static_cast<std::size_t>(spec.photo_count));
  std::iota(photos.begin(), photos.end(), 0);
  for (int i = 0; i < spec.point_count; ++i) {
    std::vector<int> seen = photos;
    if (spec.marks_a_point > 0) {
      std::shuffle(seen.begin(), seen.end(), layout);
      seen.resize(static_cast<std::size_t>(std::min(spec.marks_a_point, spec.photo_count)));
    }
    for (const int p : seen) {
      Mark mark;
      mark.photo = dossier.photos[static_cast<std::size_t>(p)].name;
      mark.point = point_name(i);
      mark.sigma_px = spec.assumed_sigma_px;
      mark.position_px = calib::project(survey.true_camera,
                                        survey.true_poses[static_cast<std::size_t>(p)], at(i)) +
                         spec.true_sigma_px * Eigen::Vector2d(normal(random), normal(random));
      if (share(random) < spec.blunder_share) {
        const double direction = turn(random), length = size(random);
        mark.position_px += length * Eigen::Vector2d(std::cos(direction), std::sin(direction));
        survey.blunders.push_back(dossier.marks.size());
      }
      dossier.marks.push_back(mark);
    }
  }

  if (spec.bars) {
    const double u_own = 0.015, u_common = 0.01, alpha = 11.5e-6, u_alpha = 1e-6,
                 temperature = 26.0, u_temperature = 0.5;
    const double common_error = u_common * normal(random);
    const double true_alpha = alpha + u_alpha * normal(random);
    survey.true_temperature_C = temperature + u_temperature * normal(random);
    const auto add_bar = [&](const std::string& name, int from, int to) {
      const double length_today = (at(to) - at(from)).norm();
      const double length_20 = length_today / (1 + true_alpha * (survey.true_temperature_C - 20));
      ScaleBar bar;
      bar.name = name;
      bar.from = point_name(from);
      bar.to = point_name(to);
      bar.length_mm = length_20 + u_own * normal(random) - common_error;
      bar.u_own_mm = u_own;
      bar.u_common_mm = u_common;
      bar.certificate = "one";
      bar.expansion_per_K = Uncertain{alpha, u_alpha};
      bar.temperature_C = Uncertain{temperature, u_temperature};
      dossier.bars.push_back(bar);
    };
    add_bar("bar A", 0, 1);
    add_bar("bar B", 2, 3);
    dossier.temperature_C = Uncertain{temperature, u_temperature};
  }

  const auto name = [](int i) { return point_name(i); };
  dossier.dimensions = {
      {"distance", Distance{name(4), name(5)}},
      {"long distance", Distance{name(0), name(7)}},
      {"along", DistanceAlong{name(4), name(6), name(0), name(1)}},
      {"angle", Angle{name(5), name(4), name(6)}},
      {"offset from a line", OffsetFromLine{name(7), name(4), name(5)}},
      {"offset from a plane of three", OffsetFromPlane{name(5), {name(0), name(1), name(3)}}},
      {"offset from a plane of four",
       OffsetFromPlane{name(6), {name(0), name(1), name(2), name(3)}}},
  };
  if (spec.point_count >= 16 && !spec.planar) {
    dossier.dimensions.push_back({"near zero distance", Distance{name(8), name(9)}});
    dossier.dimensions.push_back(
        {"near zero offset from a line", OffsetFromLine{name(12), name(10), name(11)}});
    dossier.dimensions.push_back({"near zero angle at 180", Angle{name(13), name(15), name(14)}});
  }
  return survey;
}

namespace {

struct Value {
  const std::map<std::string, Eigen::Vector3d>& at;
  double operator()(const auto&) const { return std::numeric_limits<double>::quiet_NaN(); }
  double operator()(const Distance& d) const { return (at.at(d.to) - at.at(d.from)).norm(); }
  double operator()(const DistanceAlong& d) const {
    return (at.at(d.to) - at.at(d.from)).dot((at.at(d.axis_to) - at.at(d.axis_from)).normalized());
  }
  double operator()(const Angle& d) const {
    const Eigen::Vector3d a = at.at(d.first) - at.at(d.vertex),
                          b = at.at(d.second) - at.at(d.vertex);
    return std::atan2(a.cross(b).norm(), a.dot(b));
  }
  double operator()(const OffsetFromLine& d) const {
    const Eigen::Vector3d along = (at.at(d.line_to) - at.at(d.line_from)).normalized();
    const Eigen::Vector3d arm = at.at(d.point) - at.at(d.line_from);
    return (arm - arm.dot(along) * along).norm();
  }
  double operator()(const OffsetFromPlane& d) const {
    Eigen::Vector3d centre = Eigen::Vector3d::Zero();
    for (const auto& p : d.plane) centre += at.at(p) / static_cast<double>(d.plane.size());
    Eigen::Matrix3d scatter = Eigen::Matrix3d::Zero();
    for (const auto& p : d.plane) scatter += (at.at(p) - centre) * (at.at(p) - centre).transpose();
    Eigen::Vector3d normal =
        Eigen::SelfAdjointEigenSolver<Eigen::Matrix3d>(scatter).eigenvectors().col(0);
    const Eigen::Vector3d side =
        (at.at(d.plane[1]) - at.at(d.plane[0])).cross(at.at(d.plane[2]) - at.at(d.plane[0]));
    if (normal.dot(side) < 0) normal = -normal;
    return normal.dot(at.at(d.point) - centre);
  }
};

}  // namespace

double true_value(const SimulatedSurvey& survey, const DimensionKind& kind) {
  return std::visit(Value{survey.true_points}, kind);
}

}  // namespace testing_support
