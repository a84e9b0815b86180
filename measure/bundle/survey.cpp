#include "measure/bundle/survey.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <numeric>
#include <random>
#include <set>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>

#include "calib/adjust/distributions.h"
#include "calib/adjust/solve.h"
#include "calib/base/units.h"
#include "measure/bundle/curve_start.h"
#include "measure/bundle/source_shift.h"
#include "measure/bundle/survey_network.h"
#include "measure/orient/orient.h"

namespace measure {

using namespace calib::adjust;
using calib::Blame;
using calib::Problem;
using calib::Unexpected;
using internal::Geometry;
using internal::Observed;
using internal::SurveyNetwork;

struct Survey::State {
  Observed observed;
  std::vector<std::string> photo_names, point_names;
  std::map<std::string, int> point_number, photo_number;
  std::vector<std::string> point_reason;  ///< empty where placed
  SurveyNetwork parts;
  Datum datum;
  std::unique_ptr<Covariance> covariance;
  SurveyReport report;
  std::vector<std::string> budget_groups;
  std::vector<Eigen::Matrix2d> mark_cofactors;  ///< I − J Q Jᵀ of each mark in use, scaled units
  std::vector<double> curve_cofactors;          ///< the same of marks on shapes
  std::map<std::string, int> curve_number;      ///< of the shapes that stand
  std::map<std::string, std::string> curve_reason;  ///< of the seen shapes that do not
  std::vector<std::pair<double, double>> curve_extents;
};

namespace {

constexpr double kSignificance = 0.001;

/// Orienting asks whether a mark lies within some σ of where the photos found so far see its point.
/// Marks by hand tell the photos to some tenths of a pixel: a refined mark of 0.01 px would seem to
/// contradict them. The adjustment after it takes every σ as it is.
constexpr double kLeastOrientingSigma_px = 0.2;

std::string number(double value, int places) {
  char text[48];
  std::snprintf(text, sizeof text, "%.*f", places, value);
  return text;
}

std::string quoted(const std::string& name) { return "\"" + name + "\""; }

std::string counted(std::size_t n, const char* one, const char* many) {
  return std::to_string(n) + " " + (n == 1 ? one : many);
}

/// Marks in numbers; refuses what contradicts the photos and cameras.
calib::Result<Observed, Problem> observe(const Dossier& dossier,
                                         const std::map<std::string, calib::Camera>& cameras,
                                         const SurveyOptions& options) {
  Observed observed;
  std::map<std::string, int> camera_number, photo_number, point_number;
  std::vector<calib::Intrinsics> intrinsics;
  std::vector<double> reach;
  for (const Photo& photo : dossier.photos) {
    photo_number[photo.name] = static_cast<int>(photo_number.size());
    const auto found = cameras.find(photo.camera);
    if (found == cameras.end()) {
      return Unexpected(Problem{"photo " + quoted(photo.name) +
                                " has no camera that can be read (" + quoted(photo.camera) +
                                "): add its camera file to the dossier"});
    }
    const calib::Camera& camera = found->second;
    if (!(camera.image_size == photo.size)) {
      return Unexpected(Problem{
          "photo " + quoted(photo.name) + " is " + std::to_string(photo.size.width) + " × " +
          std::to_string(photo.size.height) + " pixels, but its camera " + quoted(photo.camera) +
          " was calibrated at " + std::to_string(camera.image_size.width) + " × " +
          std::to_string(camera.image_size.height) +
          ": use the photo as it left the camera, or calibrate at its size"});
    }
    if (!camera_number.contains(photo.camera)) {
      const int number = static_cast<int>(camera_number.size());
      camera_number[photo.camera] = number;
      Observed::ObservedCamera entry;
      entry.name = photo.camera;
      entry.expected = camera.intrinsics.vector();
      entry.covariance = camera.covariance;
      entry.held.assign(camera.held.begin(), camera.held.end());
      for (int k = 0; k < calib::kIntrinsicCount; ++k) {
        if (!(camera.covariance(k, k) > 0)) entry.held[k] = true;
      }
      const CameraEntry* in_dossier = dossier.find_camera(photo.camera);
      entry.use = options.camera_use.value_or(in_dossier ? in_dossier->use : CameraUse::kPrior);
      observed.cameras.push_back(entry);
      intrinsics.push_back(camera.intrinsics);
      reach.push_back(calib::largest_valid_radius(camera.intrinsics));
    }
    observed.photo_camera.push_back(camera_number[photo.camera]);
  }
  for (const Point& point : dossier.points)
    point_number[point.name] = static_cast<int>(point_number.size());

  for (std::size_t m = 0; m < dossier.marks.size(); ++m) {
    const Mark& mark = dossier.marks[m];
    if (mark.set_aside) continue;
    const auto photo = photo_number.find(mark.photo);
    const auto point = point_number.find(mark.point);
    if (photo == photo_number.end() || point == point_number.end()) {
      return Unexpected(
          Problem{"the mark of point " + quoted(mark.point) + " in photo " + quoted(mark.photo) +
                  " names what the dossier does not hold: add it, or remove the mark"});
    }
    const int camera = observed.photo_camera[photo->second];
    if (!calib::unproject(intrinsics[camera], mark.position_px)) {
      return Unexpected(Problem{
          "the mark of point " + quoted(mark.point) + " in photo " + quoted(mark.photo) +
          " lies where the distortion of camera " + quoted(dossier.photos[photo->second].camera) +
          " has no inverse: mark it nearer to the middle, or calibrate with boards out to there"});
    }
    observed.marks.push_back({photo->second, point->second, mark.position_px, mark.sigma_px,
                              mark.source, static_cast<int>(m)});
  }

  // Quantities that bars and original share: one variable for each certificate, and one for each
  // expansion and temperature as told (the same value and u are the same thermometer and the same
  // steel).
  std::map<std::string, int> certificates;
  std::map<std::pair<double, double>, int> expansions, temperatures;
  const auto shared = [&](std::map<std::pair<double, double>, int>& known,
                          const Uncertain& quantity, const std::string& name) {
    const auto [at, is_new] =
        known.try_emplace({quantity.value, quantity.u}, static_cast<int>(observed.scalars.size()));
    if (is_new) observed.scalars.push_back({name, quantity.value, quantity.u, true});
    return at->second;
  };
  for (std::size_t b = 0; b < dossier.bars.size(); ++b) {
    const ScaleBar& bar = dossier.bars[b];
    const auto from = point_number.find(bar.from), to = point_number.find(bar.to);
    if (bar.check_only || from == point_number.end() || to == point_number.end()) continue;
    Observed::ObservedBar entry;
    entry.from = from->second;
    entry.to = to->second;
    entry.length_mm = bar.length_mm;
    entry.u_own_mm = std::max(bar.u_own_mm, 1e-6);
    entry.dossier_index = static_cast<int>(b);
    if (bar.u_common_mm > 0) {
      const auto [at, is_new] =
          certificates.try_emplace(bar.certificate, static_cast<int>(observed.scalars.size()));
      if (is_new)
        observed.scalars.push_back({"certificate " + bar.certificate, 0.0, bar.u_common_mm, false});
      entry.certificate = at->second;
    }
    if (bar.expansion_per_K && bar.temperature_C) {
      entry.expansion = shared(expansions, *bar.expansion_per_K, "expansion of bar " + bar.name);
      entry.temperature =
          shared(temperatures, *bar.temperature_C, "temperature of bar " + bar.name);
    }
    observed.bars.push_back(entry);
  }
  if (dossier.temperature_C) {
    observed.original_temperature =
        shared(temperatures, *dossier.temperature_C, "temperature of the original");
  }
  if (dossier.expansion_per_K) {
    // The original's own, even where a bar is of the same material: it is another piece.
    observed.original_expansion = static_cast<int>(observed.scalars.size());
    observed.scalars.push_back({"expansion of the original", dossier.expansion_per_K->value,
                                dossier.expansion_per_K->u, true});
  }
  return observed;
}

/// The kind of unknown that a seen shape is; nothing of shapes made of others.
std::optional<CurveKind> curve_kind(const ShapeOrigin& origin) {
  if (std::holds_alternative<SeenEdge>(origin)) return CurveKind::kEdge;
  if (std::holds_alternative<SeenCircle>(origin)) return CurveKind::kCircle;
  if (std::holds_alternative<SeenCylinder>(origin)) return CurveKind::kCylinder;
  return std::nullopt;
}

/// Checks what the marks on shapes say of photos, as observe() does for marks of points.
std::optional<Problem> shape_marks_problem(const Dossier& dossier, const Observed& observed,
                                           const std::map<std::string, int>& photo_number) {
  for (const ShapeMark& mark : dossier.shape_marks) {
    const auto photo = photo_number.find(mark.photo);
    if (photo == photo_number.end() || !dossier.find_shape(mark.shape)) {
      return Problem{"the mark on shape " + quoted(mark.shape) + " in photo " + quoted(mark.photo) +
                     " names what the dossier does not hold: add it, or remove the mark"};
    }
    const auto camera = calib::Intrinsics::from_vector(
        observed.cameras[observed.photo_camera[photo->second]].expected);
    if (mark.set_aside || calib::unproject(camera, mark.position_px)) continue;
    return Problem{"the mark on shape " + quoted(mark.shape) + " in photo " + quoted(mark.photo) +
                   " lies where the distortion of camera " +
                   quoted(dossier.photos[photo->second].camera) +
                   " has no inverse: mark it nearer to the middle, or calibrate with boards out to "
                   "there"};
  }
  return std::nullopt;
}

/// Marks of photos and points that were placed, bars whose ends are.
Observed placed_only(const Observed& all, const std::vector<bool>& photos,
                     const std::vector<bool>& points) {
  Observed placed = all;
  std::erase_if(placed.marks,
                [&](const auto& mark) { return !photos[mark.photo] || !points[mark.point]; });
  std::erase_if(placed.bars, [&](const auto& bar) { return !points[bar.from] || !points[bar.to]; });
  return placed;
}

/// Scale of the survey from its bars: the median of length over distance.
double scale_of(const Observed& observed, const Geometry& geometry) {
  std::vector<double> ratios;
  for (const auto& bar : observed.bars) {
    const double distance = (geometry.points[bar.to] - geometry.points[bar.from]).norm();
    if (distance > 0) ratios.push_back(bar.length_mm / distance);
  }
  if (ratios.empty()) return 1.0;
  std::nth_element(ratios.begin(), ratios.begin() + static_cast<std::ptrdiff_t>(ratios.size() / 2),
                   ratios.end());
  return ratios[ratios.size() / 2];
}

/// Carries over what only the earlier solution knows, beside poses and points: cameras that are the
/// same, and how the groups scattered.
void start_from(const Survey& earlier, SurveyNetwork& parts) {
  const Network& known = earlier.network();
  for (std::size_t g = 0; g < known.groups().size(); ++g) {
    parts.network.group(GroupId{static_cast<int>(g)}).scale = known.groups()[g].scale;
  }
  std::map<std::string, const Block*> cameras;
  for (const Block& block : known.blocks()) {
    if (block.values.size() == calib::kIntrinsicCount) cameras.emplace(block.name, &block);
  }
  for (const BlockId id : parts.cameras) {
    Block& camera = parts.network.block(id);
    const auto found = cameras.find(camera.name);
    if (found == cameras.end()) continue;
    for (Eigen::Index k = 0; k < camera.values.size(); ++k) {
      if (!camera.held[k] && !found->second->held[k]) camera.values[k] = found->second->values[k];
    }
  }
}

/// What an earlier solution places, in the order of this survey.
KnownOrientation known_from(const Survey& earlier, const OrientationInput& input) {
  KnownOrientation known;
  known.poses.resize(input.photos.size());
  known.points.resize(input.point_names.size());
  std::map<std::string, const PhotoReport*> photos;
  for (const PhotoReport& photo : earlier.report().photos) {
    if (photo.placed) photos.emplace(photo.name, &photo);
  }
  for (std::size_t p = 0; p < input.photos.size(); ++p) {
    const auto found = photos.find(input.photos[p].name);
    if (found != photos.end()) known.poses[p] = found->second->pose;
  }
  std::map<std::string, const PointReport*> points;
  for (const PointReport& point : earlier.report().points) {
    if (point.placed) points.emplace(point.name, &point);
  }
  for (std::size_t p = 0; p < input.point_names.size(); ++p) {
    const auto found = points.find(input.point_names[p]);
    if (found != points.end()) known.points[p] = found->second->position;
  }
  return known;
}

struct Adjusted {
  SurveyNetwork parts;
  Datum datum;
  AdjustResult result;
};

Problem stopped() { return {"the adjustment was stopped: nothing was changed", Blame::kSurvey}; }

Problem singular_problem(const CovarianceError& error) {
  return {"the survey does not determine " + error.item +
              ": mark it, and what surrounds it, in more photos taken from other directions",
          Blame::kSurvey};
}

calib::Result<Adjusted, Problem> adjust_from(const Observed& observed, const Geometry& start,
                                             const std::vector<std::string>& photo_names,
                                             const std::vector<std::string>& point_names,
                                             const SurveyOptions& options) {
  Adjusted adjusted;
  adjusted.parts = internal::build_network(observed, start, photo_names, point_names);
  Network& net = adjusted.parts.network;
  adjusted.datum = find_datum(net);
  SolveOptions solver;
  solver.cancelled = options.cancelled;
  if (options.start) {
    start_from(*options.start, adjusted.parts);
  } else {
    SolveOptions robust = solver;
    robust.robust = true;
    (void)solve(net, adjusted.datum, robust);
  }
  if (options.cancelled && options.cancelled()) {
    return Unexpected(stopped());
  }
  const auto result = adjust(net, adjusted.datum, solver);
  if (!result) return Unexpected(singular_problem(result.error()));
  adjusted.result = *result;
  if (result->solve.termination == Termination::kFailed || !net.snapshot().front().allFinite()) {
    return Unexpected(Problem{
        "the adjustment found no solution: look at the marks with the largest residuals, or mark "
        "more points in more photos",
        Blame::kSurvey});
  }
  return adjusted;
}

/// Finds the seen shapes in the photos that stand, and makes them unknowns of the network with the
/// marks on them. `adjusted` holds the survey of the points, and becomes that of both.
calib::Result<calib::Done, Problem> add_curves(Survey::State& s, const Dossier& dossier,
                                               const std::vector<bool>& placed, Adjusted& adjusted,
                                               const SurveyOptions& options) {
  const Network& net = adjusted.parts.network;
  Geometry start;
  std::vector<internal::CurvePhoto> photos;
  for (std::size_t p = 0; p < adjusted.parts.poses.size(); ++p) {
    start.poses.push_back(calib::Pose::from_vector(net.block(adjusted.parts.poses[p]).values));
    const BlockId camera = adjusted.parts.cameras[s.observed.photo_camera[p]];
    photos.push_back(
        {start.poses.back(), calib::Intrinsics::from_vector(net.block(camera).values)});
  }
  for (const BlockId id : adjusted.parts.points) start.points.emplace_back(net.block(id).values);

  for (const Shape& shape : dossier.shapes) {
    const auto kind = curve_kind(shape.origin);
    if (!kind) continue;
    if (options.cancelled && options.cancelled()) return Unexpected(stopped());
    std::vector<internal::CurveMark> marks;
    std::vector<Observed::ObservedCurveMark> entries;
    for (std::size_t m = 0; m < dossier.shape_marks.size(); ++m) {
      const ShapeMark& mark = dossier.shape_marks[m];
      if (mark.shape != shape.name || mark.set_aside) continue;
      const int photo = s.photo_number.at(mark.photo);
      if (!placed[photo]) continue;
      marks.push_back({photo, mark.position_px, mark.sigma_px, mark.side});
      entries.push_back({photo, static_cast<int>(s.observed.curves.size()), mark.position_px,
                         mark.sigma_px, mark.source, 0, static_cast<int>(m)});
    }
    std::optional<internal::KnownCurve> known;
    if (options.start) {
      if (const auto before = options.start->shape(shape.name)) {
        const CurveGeometry g = curve_geometry(
            before->kind, before->frame, options.start->network().block(before->block).values);
        if (before->kind == *kind) known = {g.place, g.direction, g.radius};
      }
    }
    const auto found = internal::start_curve(*kind, marks, photos, known);
    if (!found) {
      s.curve_reason[shape.name] = found.error();
      continue;
    }
    for (std::size_t m = 0; m < entries.size(); ++m) {
      const auto side = found->sides.find({marks[m].photo, marks[m].side});
      if (side != found->sides.end()) entries[m].side = side->second;
    }
    s.curve_number[shape.name] = static_cast<int>(s.observed.curves.size());
    s.curve_extents.emplace_back(found->from, found->to);
    s.observed.curves.push_back({shape.name, *kind, found->frame});
    s.observed.curve_marks.insert(s.observed.curve_marks.end(), entries.begin(), entries.end());
    start.curves.push_back(found->values);
  }
  if (s.observed.curves.empty()) return calib::Done{};

  SurveyNetwork parts = internal::build_network(s.observed, start, s.photo_names, s.point_names);
  for (std::size_t c = 0; c < parts.cameras.size(); ++c) {
    parts.network.block(parts.cameras[c]).values = net.block(adjusted.parts.cameras[c]).values;
  }
  for (std::size_t k = 0; k < parts.scalars.size(); ++k) {
    parts.network.block(parts.scalars[k]).values = net.block(adjusted.parts.scalars[k]).values;
  }
  for (std::size_t g = 0; g < net.groups().size(); ++g) {
    parts.network.group(GroupId{static_cast<int>(g)}).scale = net.groups()[g].scale;
  }
  adjusted.parts = std::move(parts);
  adjusted.datum = find_datum(adjusted.parts.network);
  SolveOptions solver;
  solver.cancelled = options.cancelled;
  const auto result = adjust(adjusted.parts.network, adjusted.datum, solver);
  if (options.cancelled && options.cancelled()) return Unexpected(stopped());
  if (!result) return Unexpected(singular_problem(result.error()));
  adjusted.result = *result;
  return calib::Done{};
}

double weighted_square_sum(const Adjusted& adjusted) {
  double sum = 0;
  for (std::size_t g = 0; g < adjusted.result.fit.groups.size(); ++g) {
    sum += adjusted.result.fit.groups[g].sum_of_squares;
  }
  return sum;
}

void report_cameras(Survey::State& s, const Dossier& dossier) {
  std::vector<std::string> names(s.observed.cameras.size());
  for (std::size_t p = 0; p < dossier.photos.size(); ++p)
    names[s.observed.photo_camera[p]] = dossier.photos[p].camera;
  const std::vector<bool> in_use = s.parts.network.blocks_in_use();
  for (std::size_t c = 0; c < names.size(); ++c) {
    const BlockId block = s.parts.cameras[c];
    if (!in_use[block.index]) continue;
    const auto& observed = s.observed.cameras[c];
    CameraReport report;
    report.name = names[c];
    report.use = observed.use;
    report.intrinsics = calib::Intrinsics::from_vector(s.parts.network.block(block).values);
    const std::array<BlockId, 1> one{block};
    report.covariance = s.covariance->joint(one);
    if (observed.use == CameraUse::kPrior) {
      std::vector<int> free;
      for (int k = 0; k < calib::kIntrinsicCount; ++k) {
        if (!observed.held[k]) free.push_back(k);
      }
      if (!free.empty()) {
        const Eigen::VectorXd sd = observed.covariance.diagonal()(free).cwiseSqrt();
        const Eigen::VectorXd change =
            (s.parts.network.block(block).values - observed.expected)(free).cwiseQuotient(sd);
        const Eigen::MatrixXd learnt = sd.cwiseInverse().asDiagonal() *
                                       (observed.covariance - report.covariance)(free, free) *
                                       sd.cwiseInverse().asDiagonal();
        // Where the survey taught nothing, prior and posterior agree and the difference is
        // rounding.
        const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> eigen(learnt);
        double d2 = 0;
        int rank = 0;
        for (Eigen::Index k = 0; k < change.size(); ++k) {
          if (eigen.eigenvalues()[k] < 1e-4) continue;
          const double along = eigen.eigenvectors().col(k).dot(change);
          d2 += along * along / eigen.eigenvalues()[k];
          ++rank;
        }
        report.change_d2 = d2;
        if (rank > 0 && d2 > chi_square_quantile(0.999, rank)) {
          report.as_calibrated = false;
          Eigen::Index most = 0;
          change.cwiseAbs().maxCoeff(&most);
          report.changed_parameter =
              std::string(calib::kIntrinsicNames[static_cast<std::size_t>(free[most])]);
          s.report.warnings.push_back(
              "camera " + quoted(report.name) + " is not as calibrated: " +
              report.changed_parameter + " moved by " + number(change[most], 1) +
              " of its standard uncertainties. Calibrate it anew at this focus, or let the survey "
              "solve it; on the next "
              "visit fix the focus and switch stabilisation and in-camera lens correction off");
        }
      }
    }
    s.report.cameras.push_back(report);
  }
}

void report_bars(Survey::State& s, const Dossier& dossier) {
  std::size_t used = 0;
  for (std::size_t b = 0; b < dossier.bars.size(); ++b) {
    const ScaleBar& bar = dossier.bars[b];
    BarReport report;
    report.name = bar.name;
    const double warmer =
        bar.temperature_C ? bar.temperature_C->value - calib::kReferenceTemperature.value() : 0.0;
    const double factor =
        bar.expansion_per_K && bar.temperature_C ? 1 + bar.expansion_per_K->value * warmer : 1.0;
    report.certified_mm = bar.length_mm * factor;
    double thermal = 0;
    if (bar.expansion_per_K && bar.temperature_C) {
      thermal = std::hypot(bar.length_mm * warmer * bar.expansion_per_K->u,
                           bar.length_mm * bar.expansion_per_K->value * bar.temperature_C->u);
    }
    report.u_mm = std::hypot(bar.u_own_mm, bar.u_common_mm, thermal);
    const auto from = s.point_number.find(bar.from), to = s.point_number.find(bar.to);
    const auto reason_of = [&](const auto& at, const std::string& name) {
      if (at == s.point_number.end()) return "point " + quoted(name) + " is not in the dossier";
      return s.point_reason[at->second].empty()
                 ? std::string()
                 : "point " + quoted(name) + " " + s.point_reason[at->second];
    };
    report.reason = reason_of(from, bar.from);
    if (report.reason.empty()) report.reason = reason_of(to, bar.to);
    if (report.reason.empty()) {
      const BlockId a = s.parts.points[from->second], c = s.parts.points[to->second];
      const Eigen::Vector3d span =
          s.parts.network.block(c).values - s.parts.network.block(a).values;
      report.found_mm = span.norm();
      report.error_mm = report.found_mm - report.certified_mm;
      const auto in_solution = std::find_if(
          s.observed.bars.begin(), s.observed.bars.end(),
          [&](const auto& entry) { return entry.dossier_index == static_cast<int>(b); });
      const Eigen::Vector3d direction = span.normalized();
      const double u_found =
          std::sqrt(std::max(0.0, variance_of(*s.covariance, {{a, c}, {-direction, direction}})));
      if (in_solution == s.observed.bars.end()) {
        report.checked = true;
        report.u_error_mm = std::hypot(u_found, report.u_mm);
        report.contradicts = std::abs(report.error_mm) > 3.29 * report.u_error_mm;
      } else {
        report.used = true;
        ++used;
        const ObservationId id =
            s.parts.bars[static_cast<std::size_t>(in_solution - s.observed.bars.begin())];
        const double redundancy = s.covariance->residual_cofactor(id)(0, 0);
        const double residual = s.parts.network.residuals(id)[0];
        report.u_error_mm = std::max(bar.u_own_mm, 1e-6) * std::sqrt(std::max(redundancy, 0.0));
        // Below this the others could not see an error of a hundred times the bar's own u.
        report.checked = redundancy > 1e-4;
        report.contradicts = report.checked && std::abs(residual) > 3.29 * std::sqrt(redundancy);
      }
      if (report.contradicts) {
        s.report.warnings.push_back(
            (report.used ? "scale bar " : "check length ") + quoted(bar.name) +
            " contradicts the " + (report.used ? "other scale bars" : "survey") + ": found " +
            number(report.found_mm, 3) + " mm, certified " + number(report.certified_mm, 3) +
            " mm. Check its length, its ends' marks, and which bar it is");
      }
    }
    s.report.bars.push_back(report);
  }
  if (s.report.unit == LengthUnit::kMillimetre && used == 1) {
    s.report.warnings.push_back(
        "one scale bar only: its length cannot be checked. Lay a second one, or give a known "
        "length with --check");
  }
}

void report_curves(Survey::State& s, const Dossier& dossier) {
  const Network& net = s.parts.network;
  std::vector<std::set<int>> photos(s.observed.curves.size());
  std::vector<int> marks(s.observed.curves.size(), 0);
  for (std::size_t m = 0; m < s.parts.curve_marks.size(); ++m) {
    const auto& mark = s.observed.curve_marks[m];
    const auto& curve = s.observed.curves[mark.curve];
    ShapeMarkReport& report = s.report.shape_marks[m];
    report.in_use = net.observation(s.parts.curve_marks[m]).active;
    const auto camera = calib::Intrinsics::from_vector(
        net.block(s.parts.cameras[s.observed.photo_camera[mark.photo]]).values);
    const auto foot =
        curve_foot(Curve{curve.kind, curve.frame, mark.side},
                   calib::Pose::from_vector(net.block(s.parts.poses[mark.photo]).values), camera,
                   net.block(s.parts.curves[mark.curve]).values, mark.position_px);
    report.foot_px = foot ? foot->position_px : mark.position_px;
    report.residual_px = (report.foot_px - mark.position_px).norm();
    if (!report.in_use) continue;
    photos[mark.curve].insert(mark.photo);
    ++marks[mark.curve];
  }
  for (const Shape& shape : dossier.shapes) {
    if (!is_seen(shape.origin)) continue;
    SeenShapeReport report;
    report.name = shape.name;
    if (const auto at = s.curve_number.find(shape.name); at != s.curve_number.end()) {
      report.placed = true;
      report.marks = marks[at->second];
      report.photos = static_cast<int>(photos[at->second].size());
      std::tie(report.from, report.to) = s.curve_extents[at->second];
    } else {
      report.reason = s.curve_reason[shape.name];
      s.report.warnings.push_back("shape " + quoted(report.name) + " " + report.reason);
    }
    s.report.shapes.push_back(report);
  }
}

std::string one_of_these_sentence(const std::vector<std::pair<std::string, std::string>>& marks) {
  // Two photos that hang together by few marks may have dozens: some name the place.
  constexpr std::size_t kMostNamed = 8;
  std::string names;
  bool one_point = true;
  for (std::size_t i = 0; i < marks.size(); ++i) {
    one_point = one_point && marks[i].second == marks[0].second;
    if (i == kMostNamed) {
      names += " or one of " + std::to_string(marks.size() - i) + " more";
      break;
    }
    names += (i == 0 ? "" : " or ") + quoted(marks[i].second) + " in " + quoted(marks[i].first);
  }
  return "one of these marks is wrong, and no other mark tells which: " + names + ". " +
         (one_point ? "Mark the point in another photo, or look at them"
                    : "Mark more points in these photos, or look at them");
}

std::string temperature_sentence(const Dossier& dossier) {
  if (!dossier.temperature_C)
    return "Lengths hold at the temperature of the visit, which is not recorded.";
  return "Lengths hold as found, at " + number(dossier.temperature_C->value, 1) + " °C ± " +
         number(2 * dossier.temperature_C->u, 1) + " °C" +
         (dossier.expansion_per_K
              ? "."
              : "; the original's expansion is not told, so they are not given at 20 °C.");
}

}  // namespace

Survey::Survey(std::unique_ptr<State> state) : state_(std::move(state)) {}
Survey::Survey(Survey&&) noexcept = default;
Survey& Survey::operator=(Survey&&) noexcept = default;
Survey::~Survey() = default;

const SurveyReport& Survey::report() const { return state_->report; }
const Network& Survey::network() const { return state_->parts.network; }
const Covariance& Survey::covariance() const { return *state_->covariance; }
const std::vector<std::string>& Survey::budget_groups() const { return state_->budget_groups; }

std::optional<BlockId> Survey::point(const std::string& name, std::string* why) const {
  const auto at = state_->point_number.find(name);
  if (at == state_->point_number.end()) {
    if (why) *why = "point " + quoted(name) + " is not in the dossier";
    return std::nullopt;
  }
  const std::string& reason = state_->point_reason[at->second];
  if (!reason.empty()) {
    if (why) *why = "point " + quoted(name) + " " + reason;
    return std::nullopt;
  }
  return state_->parts.points[at->second];
}

std::optional<SeenShape> Survey::shape(const std::string& name, std::string* why) const {
  const auto at = state_->curve_number.find(name);
  if (at == state_->curve_number.end()) {
    if (why) {
      const auto reason = state_->curve_reason.find(name);
      *why = "shape " + quoted(name) +
             (reason == state_->curve_reason.end() ? " is not measured by marks of its own"
                                                   : " " + reason->second);
    }
    return std::nullopt;
  }
  const auto c = static_cast<std::size_t>(at->second);
  return SeenShape{state_->parts.curves[c], state_->observed.curves[c].kind,
                   state_->observed.curves[c].frame, state_->curve_extents[c].first,
                   state_->curve_extents[c].second};
}

std::optional<BlockId> Survey::pose_block(const std::string& photo) const {
  const auto at = state_->photo_number.find(photo);
  if (at == state_->photo_number.end()) return std::nullopt;
  if (!state_->report.photos[static_cast<std::size_t>(at->second)].placed) return std::nullopt;
  return state_->parts.poses[static_cast<std::size_t>(at->second)];
}

std::optional<BlockId> Survey::camera_block(const std::string& photo) const {
  if (!pose_block(photo)) return std::nullopt;
  const int number = state_->photo_number.at(photo);
  return state_->parts.cameras[static_cast<std::size_t>(
      state_->observed.photo_camera[static_cast<std::size_t>(number)])];
}

std::optional<BlockId> Survey::temperature() const {
  if (state_->observed.original_temperature < 0) return std::nullopt;
  return state_->parts.scalars[state_->observed.original_temperature];
}

std::optional<BlockId> Survey::expansion() const {
  if (state_->observed.original_expansion < 0) return std::nullopt;
  return state_->parts.scalars[state_->observed.original_expansion];
}

std::vector<double> Survey::group_degrees_of_freedom() const {
  std::vector<double> dof;
  for (const GroupFit& group : state_->report.fit.groups) {
    dof.push_back(group.factor_estimated ? group.redundancy
                                         : std::numeric_limits<double>::infinity());
  }
  return dof;
}

double Survey::external_reliability(const Gradient& gradient) const {
  const State& s = *state_;
  const std::vector<Eigen::VectorXd> moved =
      s.covariance->times(gradient.blocks, gradient.by_block);
  double largest = 0;
  for (std::size_t m = 0; m < s.parts.marks.size(); ++m) {
    const ObservationId id = s.parts.marks[m];
    const Observation& observation = s.parts.network.observation(id);
    if (!observation.active) continue;
    const Eigen::VectorXd felt = s.covariance->jacobian_times(id, moved);
    const Eigen::SelfAdjointEigenSolver<Eigen::Matrix2d> eigen(s.mark_cofactors[m]);
    double sum = 0;
    int directions = 0;
    for (int k = 0; k < 2; ++k) {
      if (eigen.eigenvalues()[k] < 0.05)
        continue;  // not controlled: reported as such, not as a number
      const double along = eigen.eigenvectors().col(k).dot(felt);
      sum += along * along / eigen.eigenvalues()[k];
      ++directions;
    }
    if (directions == 0) continue;
    static const double noncentrality[] = {detectable_noncentrality(kSignificance, 0.80, 1),
                                           detectable_noncentrality(kSignificance, 0.80, 2)};
    largest = std::max(largest, std::sqrt(noncentrality[directions - 1] * sum));
  }
  for (std::size_t m = 0; m < s.parts.curve_marks.size(); ++m) {
    const ObservationId id = s.parts.curve_marks[m];
    const double redundancy = s.curve_cofactors[m];
    if (!s.parts.network.observation(id).active || redundancy < 0.05) continue;
    static const double noncentrality = detectable_noncentrality(kSignificance, 0.80, 1);
    const double felt = s.covariance->jacobian_times(id, moved)[0];
    largest = std::max(largest, std::sqrt(noncentrality * felt * felt / redundancy));
  }
  return largest;
}

std::optional<std::vector<Eigen::VectorXd>> Survey::simulate(std::uint32_t seed) const {
  const State& s = *state_;
  std::mt19937_64 random(seed);
  std::normal_distribution<double> normal;
  Observed drawn = s.observed;
  const Network& net = s.parts.network;
  std::vector<bool> active(drawn.marks.size());
  Geometry truth;
  for (const BlockId id : s.parts.poses)
    truth.poses.push_back(calib::Pose::from_vector(net.block(id).values));
  for (const BlockId id : s.parts.points) truth.points.emplace_back(net.block(id).values);
  for (std::size_t m = 0; m < drawn.marks.size(); ++m) {
    auto& mark = drawn.marks[m];
    active[m] = net.observation(s.parts.marks[m]).active;
    const double sigma = mark.sigma_px * net.groups()[internal::group_of(mark.source)].scale;
    const auto camera = calib::Intrinsics::from_vector(
        net.block(s.parts.cameras[drawn.photo_camera[mark.photo]]).values);
    mark.position_px = calib::project(camera, truth.poses[mark.photo], truth.points[mark.point]) +
                       sigma * Eigen::Vector2d(normal(random), normal(random));
  }
  for (const BlockId id : s.parts.curves) truth.curves.push_back(net.block(id).values);
  for (auto& mark : drawn.curve_marks) {
    const auto& curve = drawn.curves[mark.curve];
    const double sigma = mark.sigma_px * net.groups()[internal::curve_group_of(mark.source)].scale;
    const auto camera = calib::Intrinsics::from_vector(
        net.block(s.parts.cameras[drawn.photo_camera[mark.photo]]).values);
    const auto foot = curve_foot(Curve{curve.kind, curve.frame, mark.side}, truth.poses[mark.photo],
                                 camera, truth.curves[mark.curve], mark.position_px);
    if (!foot) return std::nullopt;
    mark.position_px = foot->position_px + sigma * normal(random) * foot->normal;
  }
  for (std::size_t c = 0; c < drawn.cameras.size(); ++c) {
    auto& camera = drawn.cameras[c];
    camera.expected = net.block(s.parts.cameras[c]).values;
    if (camera.use != CameraUse::kPrior) continue;
    std::vector<int> free;
    for (int k = 0; k < calib::kIntrinsicCount; ++k) {
      if (!camera.held[k]) free.push_back(k);
    }
    if (free.empty()) continue;
    const Eigen::VectorXd sd = camera.covariance.diagonal()(free).cwiseSqrt();
    const Eigen::MatrixXd correlation = sd.cwiseInverse().asDiagonal() *
                                        Eigen::MatrixXd(camera.covariance(free, free)) *
                                        sd.cwiseInverse().asDiagonal();
    const Eigen::MatrixXd lower = correlation.llt().matrixL();
    Eigen::VectorXd draw(sd.size());
    for (Eigen::Index k = 0; k < draw.size(); ++k) draw[k] = normal(random);
    draw = sd.cwiseProduct(lower * draw);
    for (std::size_t k = 0; k < free.size(); ++k)
      camera.expected[free[k]] += draw[static_cast<Eigen::Index>(k)];
  }
  for (std::size_t k = 0; k < drawn.scalars.size(); ++k) {
    drawn.scalars[k].expected =
        net.block(s.parts.scalars[k]).values[0] + drawn.scalars[k].u * normal(random);
  }
  for (std::size_t b = 0; b < drawn.bars.size(); ++b) {
    auto& bar = drawn.bars[b];
    const double found = (truth.points[bar.to] - truth.points[bar.from]).norm();
    const double certificate =
        bar.certificate >= 0 ? net.block(s.parts.scalars[bar.certificate]).values[0] : 0.0;
    double factor = 1;
    if (bar.expansion >= 0) {
      factor += net.block(s.parts.scalars[bar.expansion]).values[0] *
                (net.block(s.parts.scalars[bar.temperature]).values[0] -
                 calib::kReferenceTemperature.value());
    }
    bar.length_mm = (found + bar.u_own_mm * normal(random)) / factor - certificate;
  }
  SurveyNetwork parts = internal::build_network(drawn, truth, s.photo_names, s.point_names);
  // The camera starts where it was, not where the drawn prior says: fewer steps to the same
  // minimum.
  for (std::size_t c = 0; c < parts.cameras.size(); ++c) {
    parts.network.block(parts.cameras[c]).values = net.block(s.parts.cameras[c]).values;
  }
  for (std::size_t m = 0; m < active.size(); ++m)
    parts.network.set_active(parts.marks[m], active[m]);
  for (std::size_t m = 0; m < parts.curve_marks.size(); ++m) {
    parts.network.set_active(parts.curve_marks[m], net.observation(s.parts.curve_marks[m]).active);
  }
  for (std::size_t g = 0; g < net.groups().size(); ++g) {
    parts.network.group(GroupId{static_cast<int>(g)}).scale = net.groups()[g].scale;
  }
  const SolveSummary summary = solve(parts.network, find_datum(parts.network));
  if (summary.termination != Termination::kConverged) return std::nullopt;
  return parts.network.snapshot();
}

calib::Result<Survey, Problem> solve_survey(const Dossier& dossier,
                                            const std::map<std::string, calib::Camera>& cameras,
                                            const SurveyOptions& options) {
  const auto tell = [&](double share, const char* what) {
    if (options.progress) options.progress(share, what);
  };
  if (dossier.photos.size() < 2) {
    return Unexpected(Problem{"the dossier holds " +
                                  counted(dossier.photos.size(), "photo", "photos") +
                                  ": a survey needs two or more, taken from different places",
                              Blame::kSurvey});
  }
  auto observed = observe(dossier, cameras, options);
  if (!observed) return Unexpected(observed.error());

  auto state = std::make_unique<Survey::State>();
  Survey::State& s = *state;
  for (const Photo& photo : dossier.photos) {
    s.photo_number[photo.name] = static_cast<int>(s.photo_names.size());
    s.photo_names.push_back(photo.name);
  }
  for (const Point& point : dossier.points) {
    s.point_number[point.name] = static_cast<int>(s.point_names.size());
    s.point_names.push_back(point.name);
  }

  if (const auto problem = shape_marks_problem(dossier, *observed, s.photo_number)) {
    return Unexpected(*problem);
  }

  tell(0.05, "orienting the photos");
  OrientationInput input;
  for (std::size_t p = 0; p < dossier.photos.size(); ++p) {
    const auto& camera = cameras.at(dossier.photos[p].camera);
    input.photos.push_back({dossier.photos[p].name, camera.intrinsics, camera.image_size});
  }
  input.point_names = s.point_names;
  for (const auto& mark : observed->marks) {
    input.marks.push_back({mark.photo, mark.point, mark.position_px,
                           std::max(mark.sigma_px, kLeastOrientingSigma_px)});
  }
  OrientationOptions orientation_options;
  orientation_options.cancelled = options.cancelled;
  const auto orientation =
      options.start ? orient_from(input, known_from(*options.start, input), orientation_options)
                    : orient(input, orientation_options);
  if (!orientation) return Unexpected(orientation.error().problem);

  // Every start that puts all points before the cameras is adjusted to the end: which of two shapes
  // is right, only the adjusted marks can say.
  tell(0.3, "adjusting");
  std::optional<Adjusted> best;
  const Orientation* chosen = nullptr;
  double best_sum = 0, second_sum = std::numeric_limits<double>::infinity();
  std::optional<Problem> failure;
  for (const Orientation& solution : orientation->solutions) {
    Geometry start;
    std::vector<bool> photos, points;
    for (const auto& pose : solution.poses) {
      photos.push_back(pose.has_value());
      start.poses.push_back(pose.value_or(calib::Pose{}));
    }
    for (const auto& point : solution.points) {
      points.push_back(point.has_value());
      start.points.push_back(point.value_or(Eigen::Vector3d::Zero()));
    }
    const Observed placed = placed_only(*observed, photos, points);
    const double scale = scale_of(placed, start);
    for (auto& pose : start.poses) pose.translation *= scale;
    for (auto& point : start.points) point *= scale;
    auto adjusted = adjust_from(placed, start, s.photo_names, s.point_names, options);
    if (!adjusted) {
      failure = adjusted.error();
      continue;
    }
    const double sum = weighted_square_sum(*adjusted);
    if (!best || sum < best_sum) {
      if (best) second_sum = std::min(second_sum, best_sum);
      best_sum = sum;
      best = std::move(*adjusted);
      chosen = &solution;
      s.observed = placed;
    } else {
      second_sum = std::min(second_sum, sum);
    }
  }
  if (!best)
    return Unexpected(failure.value_or(Problem{"no photo could be oriented", Blame::kSurvey}));
  if (second_sum - best_sum < orientation->ambiguity_bar) {
    return Unexpected(Problem{
        "two shapes fit the marks equally well: add a third photo, taken from another place",
        Blame::kSurvey});
  }
  {
    std::vector<bool> placed;
    for (const auto& pose : chosen->poses) placed.push_back(pose.has_value());
    if (const auto added = add_curves(s, dossier, placed, *best, options); !added)
      return Unexpected(added.error());
  }
  s.parts = std::move(best->parts);
  s.datum = best->datum;
  AdjustResult adjusted = best->result;
  Network& net = s.parts.network;

  s.point_reason.assign(s.point_names.size(), "");
  for (std::size_t i = 0; i < s.point_names.size(); ++i) {
    if (!chosen->points[i]) s.point_reason[i] = orientation->point_lacks[i];
  }

  std::set<int> doubted;
  std::set<int> nobody_blamed;  // left out in the trial, but as good as others of their group
  std::map<int, DoubtedMark> doubt_of;
  std::vector<Suspect> suspects;
  for (std::size_t m = 0; m < s.parts.marks.size(); ++m) {
    suspects.push_back({.observation = s.parts.marks[m],
                        .photo = s.observed.marks[m].photo,
                        .point = s.parts.points[s.observed.marks[m].point]});
  }
  for (std::size_t m = 0; m < s.parts.curve_marks.size(); ++m) {
    const auto& mark = s.observed.curve_marks[m];
    suspects.push_back({.observation = s.parts.curve_marks[m],
                        .photo = mark.photo,
                        .point = s.parts.curves[mark.curve],
                        .least_marks = curve_size(s.observed.curves[mark.curve].kind),
                        .on_curve = true});
  }
  SolveOptions solver;
  solver.cancelled = options.cancelled;
  if (options.look_for_blunders) {
    tell(0.5, "testing the marks");
    SnoopingOptions snooping;
    snooping.solve = solver;
    const auto snooped = snoop(net, s.datum, suspects, snooping);
    if (!snooped) return Unexpected(singular_problem(snooped.error()));
    if (options.cancelled && options.cancelled()) return Unexpected(stopped());
    s.report.expected_false_doubts = snooped->expected_false_doubts;
    for (const DoubtedMark& mark : snooped->doubted) {
      doubted.insert(mark.observation.index);
      doubt_of[mark.observation.index] = mark;
    }
    std::map<int, int> mark_of;
    for (std::size_t m = 0; m < s.parts.marks.size(); ++m)
      mark_of[s.parts.marks[m].index] = static_cast<int>(m);
    for (const Swap& swap : snooped->swaps) {
      const auto& a = s.observed.marks[mark_of[swap.first.index]];
      const auto& b = s.observed.marks[mark_of[swap.second.index]];
      s.report.swaps.push_back(
          {s.photo_names[a.photo], {s.point_names[a.point], s.point_names[b.point]}});
    }
    std::map<int, int> curve_mark_of;
    for (std::size_t m = 0; m < s.parts.curve_marks.size(); ++m)
      curve_mark_of[s.parts.curve_marks[m].index] = static_cast<int>(m);
    const auto named = [&](const ObservationId id) {
      if (const auto at = curve_mark_of.find(id.index); at != curve_mark_of.end()) {
        const auto& mark = s.observed.curve_marks[at->second];
        return std::pair(s.photo_names[mark.photo], s.observed.curves[mark.curve].name);
      }
      const auto& mark = s.observed.marks[mark_of[id.index]];
      return std::pair(s.photo_names[mark.photo], s.point_names[mark.point]);
    };
    for (const auto& group : snooped->inseparable) {
      auto& one_of_these = s.report.one_of_these.emplace_back();
      for (const ObservationId id : group) {
        one_of_these.push_back(named(id));
        if (!net.observation(id).active) nobody_blamed.insert(id.index);
      }
      s.report.warnings.push_back(one_of_these_sentence(one_of_these));
    }
    for (const ObservationId id : snooped->needed) {
      const auto [photo, point] = named(id);
      s.report.warnings.push_back("the mark of " + quoted(point) + " in " + quoted(photo) +
                                  " fails the test, but its photo or point has too few marks to be "
                                  "judged without it: look at it, and mark more points there");
    }
    if (snooped->gave_up) {
      s.report.warnings.push_back(
          "more than a fifth of the marks contradict the others: look for a photo of another "
          "original or epoch, a "
          "wrong camera, or points that were renamed");
    }
  }

  // How each mark stands against the clean ones, before doubted ones may come back and bend their
  // neighbours.
  tell(0.8, "uncertainties");
  {
    const auto clean = Covariance::compute(net, s.datum);
    if (!clean) return Unexpected(singular_problem(clean.error()));
    const FitStatistics fit = fit_statistics(net, *clean);
    for (std::size_t m = 0; m < s.parts.marks.size(); ++m) {
      const auto& mark = s.observed.marks[m];
      const MarkTest test = test_mark(net, *clean, fit, s.parts.marks[m], kSignificance);
      MarkReport report;
      report.photo = s.photo_names[mark.photo];
      report.point = s.point_names[mark.point];
      report.residual_without_doubted_px = net.residuals(s.parts.marks[m]) * mark.sigma_px;
      report.w = test.w;
      report.critical_w = test.critical_w;
      report.redundancy = net.observation(s.parts.marks[m]).active ? test.redundancy : 0.0;
      report.doubted = doubted.contains(s.parts.marks[m].index);
      report.controlled = report.doubted || test.redundancy >= 0.05;
      s.report.marks.push_back(report);
    }
    for (std::size_t m = 0; m < s.parts.curve_marks.size(); ++m) {
      const auto& mark = s.observed.curve_marks[m];
      const ObservationId id = s.parts.curve_marks[m];
      const MarkTest test = test_mark(net, *clean, fit, id, kSignificance);
      ShapeMarkReport report;
      report.photo = s.photo_names[mark.photo];
      report.shape = s.observed.curves[mark.curve].name;
      report.position_px = mark.position_px;
      report.w = test.w;
      report.critical_w = test.critical_w;
      report.redundancy = net.observation(id).active ? test.redundancy : 0.0;
      report.doubted = doubted.contains(id.index);
      report.controlled = report.doubted || test.redundancy >= 0.05;
      s.report.shape_marks.push_back(report);
    }
  }
  for (const int id : nobody_blamed) net.set_active(ObservationId{id}, true);
  if (!doubted.empty() && !options.leave_out_doubted) {
    for (const int id : doubted) net.set_active(ObservationId{id}, true);
    const auto again = adjust(net, s.datum, solver);
    if (!again) return Unexpected(singular_problem(again.error()));
    adjusted = *again;
    s.report.warnings.push_back(counted(doubted.size(), "mark is", "marks are") +
                                " doubted and still used: look at them, correct them, or run "
                                "scantling adjust with --set-aside-doubted");
  } else if (options.look_for_blunders) {
    const auto again = adjust(net, s.datum, solver);
    if (!again) return Unexpected(singular_problem(again.error()));
    adjusted = *again;
    if (!doubted.empty()) {
      s.report.warnings.push_back(counted(doubted.size(), "doubted mark is", "doubted marks are") +
                                  " left out of this result");
    }
  }
  auto covariance = Covariance::compute(net, s.datum);
  if (!covariance) return Unexpected(singular_problem(covariance.error()));
  s.covariance = std::make_unique<Covariance>(std::move(*covariance));
  s.report.fit = fit_statistics(net, *s.covariance);
  s.report.fit.converged = adjusted.fit.converged;
  s.mark_cofactors.reserve(s.parts.marks.size());
  for (const ObservationId id : s.parts.marks)
    s.mark_cofactors.push_back(s.covariance->residual_cofactor(id));
  for (const ObservationId id : s.parts.curve_marks)
    s.curve_cofactors.push_back(s.covariance->residual_cofactor(id)(0, 0));
  for (int g = 0; g < internal::kSurveyGroupCount; ++g) {
    s.report.group_names.emplace_back(internal::kSurveyGroupNames[g]);
    s.budget_groups.emplace_back(internal::kSurveyBudgetNames[g]);
  }
  s.report.datum = s.datum.description;
  s.report.unit = s.observed.bars.empty() ? LengthUnit::kFree : LengthUnit::kMillimetre;

  double all_squares = 0;
  int all_marks = 0;
  std::vector<double> photo_squares(s.photo_names.size(), 0);
  std::vector<int> photo_marks(s.photo_names.size(), 0), point_marks(s.point_names.size(), 0);
  for (std::size_t m = 0; m < s.parts.marks.size(); ++m) {
    const auto& mark = s.observed.marks[m];
    s.report.marks[m].residual_px = net.residuals(s.parts.marks[m]) * mark.sigma_px;
    s.report.marks[m].in_use = net.observation(s.parts.marks[m]).active;
    if (!s.report.marks[m].in_use) continue;
    const double square = s.report.marks[m].residual_px.squaredNorm();
    all_squares += square;
    ++all_marks;
    photo_squares[mark.photo] += square;
    ++photo_marks[mark.photo];
    ++point_marks[mark.point];
  }
  s.report.rms_px = all_marks > 0 ? std::sqrt(all_squares / all_marks) : 0.0;
  for (std::size_t p = 0; p < s.photo_names.size(); ++p) {
    PhotoReport report;
    report.name = s.photo_names[p];
    report.placed = chosen->poses[p].has_value();
    report.marks = photo_marks[p];
    if (report.placed) {
      report.pose = calib::Pose::from_vector(net.block(s.parts.poses[p]).values);
      if (photo_marks[p] > 0) report.rms_px = std::sqrt(photo_squares[p] / photo_marks[p]);
    } else {
      report.reason = orientation->photo_lacks[p];
      s.report.warnings.push_back("photo " + quoted(report.name) + " is not placed: it " +
                                  report.reason);
    }
    s.report.photos.push_back(report);
  }
  for (std::size_t i = 0; i < s.point_names.size(); ++i) {
    PointReport report;
    report.name = s.point_names[i];
    report.placed = chosen->points[i].has_value();
    report.reason = s.point_reason[i];
    report.marks = point_marks[i];
    if (report.placed) {
      report.position = net.block(s.parts.points[i]).values;
      const std::array<BlockId, 1> one{s.parts.points[i]};
      report.covariance = s.covariance->joint_inner(one);
    }
    s.report.points.push_back(report);
  }

  report_curves(s, dossier);

  for (std::size_t g = 1; g < orientation->groups.size(); ++g) {
    std::string names;
    for (const int p : orientation->groups[g].photos)
      names += (names.empty() ? "" : ", ") + quoted(s.photo_names[p]);
    s.report.warnings.push_back(
        "these photos hang together with each other, but share too few points with the rest to "
        "be joined: " +
        names + ". Mark four or more points that both groups see, not all in one line");
  }
  for (int g = 0; g <= internal::kLastGroupOfMarks; ++g) {
    const GroupFit& group = s.report.fit.groups[g];
    if (group.observations == 0) continue;
    if (!group.factor_estimated) {
      s.report.warnings.push_back(
          std::string(internal::kSurveyGroupNames[g]) + ": redundancy " +
          number(group.redundancy, 1) +
          " is too small to estimate their scatter, so the σ given for them is believed");
    }
  }
  if (s.report.fit.sigma0_too_high) {
    s.report.warnings.push_back("the marks fit worse than their σ says: sigma0 " +
                                number(s.report.fit.sigma0, 2) + " where " +
                                number(s.report.fit.sigma0_high, 2) +
                                " would pass; uncertainties are scaled by each source's own s0");
  }
  report_cameras(s, dossier);
  report_bars(s, dossier);
  for (const auto& [name, camera] : cameras) {
    for (const Photo& photo : dossier.photos) {
      const bool same = photo.camera == name && !photo.sha256.empty() &&
                        std::any_of(camera.photos.begin(), camera.photos.end(),
                                    [&](const calib::CalibrationPhoto& entry) {
                                      return entry.used && entry.sha256 == photo.sha256;
                                    });
      if (!same) continue;
      s.report.warnings.push_back(
          "photo " + quoted(photo.name) + " was already used to calibrate camera " + quoted(name) +
          ": the same data count twice, and the uncertainties come out too small");
    }
  }
  if (s.report.unit == LengthUnit::kFree) {
    s.report.warnings.push_back(
        "there is no scale bar: only ratios and angles can be given. Add a known length between "
        "two marked points");
  }
  for (const std::string& sentence :
       internal::shifts_between_sources(net, *s.covariance, s.parts, s.observed)) {
    s.report.warnings.push_back(sentence);
  }
  s.report.temperature_sentence = temperature_sentence(dossier);
  tell(1.0, "done");
  return Survey(std::move(state));
}

}  // namespace measure
