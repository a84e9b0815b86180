#include "tests/support/simulated_shapes.h"

#include <cmath>
#include <numbers>
#include <random>

#include <Eigen/Geometry>

namespace testing_support {

using namespace measure;
using Eigen::Vector2d;
using Eigen::Vector3d;

namespace {

/// Adds points and marks, drawn as the stochastic model says.
class Builder {
 public:
  Builder(SimulatedSurvey& survey, const SimulatedSurveySpec& spec)
      : survey_(survey), spec_(spec), random_(spec.seed + 77'000'000u) {}

  std::vector<std::string> points(const std::string& prefix, const std::vector<Vector3d>& at) {
    std::vector<std::string> names;
    for (std::size_t i = 0; i < at.size(); ++i) {
      names.push_back(prefix + " " + std::to_string(i + 1));
      survey_.dossier.points.push_back({names.back(), ""});
      survey_.true_points[names.back()] = at[i];
      for (std::size_t p = 0; p < survey_.true_poses.size(); ++p) {
        Mark mark;
        mark.photo = survey_.dossier.photos[p].name;
        mark.point = names.back();
        mark.sigma_px = spec_.assumed_sigma_px;
        mark.position_px = seen(p, at[i]) + noise();
        survey_.dossier.marks.push_back(mark);
      }
    }
    return names;
  }

  /// Marks at places of a seen shape, each moved by the noise of both coordinates.
  void along(const std::string& shape, std::size_t photo, const Vector3d& place, int side = 0) {
    ShapeMark mark;
    mark.photo = survey_.dossier.photos[photo].name;
    mark.shape = shape;
    mark.side = side;
    mark.sigma_px = spec_.assumed_sigma_px;
    mark.position_px = seen(photo, place) + noise();
    survey_.dossier.shape_marks.push_back(mark);
  }

  [[nodiscard]] std::size_t photos() const { return survey_.true_poses.size(); }
  [[nodiscard]] Vector3d camera(std::size_t photo) const {
    return survey_.true_poses[photo].centre();
  }

 private:
  Vector2d seen(std::size_t photo, const Vector3d& place) const {
    return calib::project(survey_.true_camera, survey_.true_poses[photo], place);
  }
  Vector2d noise() {
    const double x = normal_(random_), y = normal_(random_);
    return spec_.true_sigma_px * Vector2d(x, y);
  }

  SimulatedSurvey& survey_;
  SimulatedSurveySpec spec_;
  std::mt19937_64 random_;
  std::normal_distribution<double> normal_;
};

std::vector<Vector3d> circle_places(const Vector3d& centre, const Vector3d& normal, double radius,
                                    int count, double from = 0, double to = 2 * std::numbers::pi) {
  const Vector3d x = normal.unitOrthogonal(), y = normal.normalized().cross(x);
  std::vector<Vector3d> places;
  for (int i = 0; i < count; ++i) {
    const double a = from + (to - from) * i / count;
    places.push_back(centre + radius * (std::cos(a) * x + std::sin(a) * y));
  }
  return places;
}

std::vector<Vector3d> ring_places(const Vector3d& base, const Vector3d& axis, double length,
                                  double radius_low, double radius_high, int around, int rows) {
  std::vector<Vector3d> places;
  for (int r = 0; r < rows; ++r) {
    const double t = static_cast<double>(r) / (rows - 1);
    for (const Vector3d& place :
         circle_places(base + t * length * axis.normalized(), axis,
                       radius_low + t * (radius_high - radius_low), around, 0.3 * r, 5.0 + 0.3 * r))
      places.push_back(place);
  }
  return places;
}

}  // namespace

SimulatedShapes make_simulated_shapes(const SimulatedSurveySpec& spec) {
  SimulatedShapes result;
  result.survey = make_simulated_survey(spec);
  Dossier& dossier = result.survey.dossier;
  dossier.dimensions.clear();
  Builder build(result.survey, spec);
  const auto shape = [&](const std::string& name, ShapeOrigin origin) {
    dossier.shapes.push_back({name, std::move(origin), ""});
  };
  const auto ask = [&](const std::string& name, DimensionKind kind, double truth) {
    dossier.dimensions.push_back({name, std::move(kind)});
    result.true_values[name] = truth;
  };

  // Fitted to points.
  const Vector3d up(0, 0, 1);
  shape("plane a", PlaneThrough{build.points("a", {{-90, -60, -20},
                                                   {90, -55, -20},
                                                   {80, 60, -20},
                                                   {-85, 50, -20},
                                                   {5, -10, -20},
                                                   {30, 40, -20}})});
  shape("plane b",
        PlaneThrough{build.points(
            "b",
            {{-60, -40, 21.5}, {70, -45, 21.5}, {60, 50, 21.5}, {-65, 45, 21.5}, {0, 0, 21.5}})});
  const double tilt = std::numbers::pi / 6;
  const Vector3d along_slope(std::cos(tilt), 0, std::sin(tilt));
  const auto on_slope = [&](double s, double y) -> Vector3d {
    return Vector3d(100, y, -20) + s * along_slope;
  };
  shape("slope",
        PlaneThrough{build.points("s", {on_slope(0, -50), on_slope(60, -40), on_slope(55, 45),
                                        on_slope(5, 50), on_slope(30, 0)})});
  const Vector3d line_from(-100, -30, 40), line_to(120, 50, 10);
  const auto line_names = build.points("l", {line_from, line_from + 0.3 * (line_to - line_from),
                                             line_from + 0.7 * (line_to - line_from), line_to});
  shape("line", LineThrough{line_names});
  const Vector3d round_normal = Vector3d(0.3, -0.2, 1).normalized(), round_centre(20, -30, 30);
  const auto round_names = build.points("r", circle_places(round_centre, round_normal, 34.0, 8));
  shape("round", CircleThrough{round_names});
  const Vector3d ball_centre(-40, 60, 24);
  std::vector<Vector3d> on_ball;
  for (const double latitude : {-0.3, 0.4, 1.1}) {
    for (const Vector3d& at : circle_places(ball_centre + 25 * std::sin(latitude) * up, up,
                                            25 * std::cos(latitude), 5, latitude, 5 + latitude))
      on_ball.push_back(at);
  }
  shape("ball", SphereThrough{build.points("k", on_ball)});
  const Vector3d barrel_axis = Vector3d(1, 0.2, 0.1).normalized(), barrel_base(-70, 80, 10);
  shape("barrel", CylinderThrough{
                      build.points("c", ring_places(barrel_base, barrel_axis, 60, 14, 14, 6, 3))});
  const Vector3d funnel_axis = Vector3d(0.1, 0.2, 1).normalized(), funnel_base(60, 70, 0);
  shape("funnel",
        ConeThrough{build.points("f", ring_places(funnel_base, funnel_axis, 40, 10, 26, 6, 3))});
  const Vector3d row_from(-110, -80, 5), row_step(15, 4, 1);
  std::vector<Vector3d> row;
  for (int i = 0; i < 7; ++i) row.push_back(row_from + i * row_step);
  const auto row_names = build.points("row", row);
  const auto outline_names = build.points(
      "o", {{-30, -90, 10}, {40, -90, 10}, {60, -60, 10}, {10, -40, 10}, {-30, -50, 10}});
  const Vector3d mirror_normal = Vector3d(0.02, 1, 0.01).normalized(), mirror_place(0, 3, 0);
  std::vector<Vector3d> halves;
  for (const Vector3d& one : {Vector3d(-90, 70, 5), Vector3d(70, 90, 40), Vector3d(10, 50, -15),
                              Vector3d(-40, 100, 30)}) {
    halves.push_back(one);
    halves.push_back(one - 2 * mirror_normal * mirror_normal.dot(one - mirror_place));
  }
  halves.back() += Vector3d(0.9, -0.5, 0.3);  // one of them is not symmetric
  const auto half_names = build.points("m", halves);
  // The mirror plane is of the three symmetric pairs; the fourth is asked about.
  shape("middle", MirrorPlane{{{half_names[0], half_names[1]},
                               {half_names[2], half_names[3]},
                               {half_names[4], half_names[5]}}});

  // Made of others.
  shape("corner line", Crossing{"plane a", "slope"});
  shape("pierced", Crossing{"line", "slope"});
  shape("mid", MidPlane{"plane a", "plane b"});
  shape("lifted", ParallelPlane{"plane a", "", 12.0});

  // Seen.
  shape("edge 1", SeenEdge{});
  shape("edge 2", SeenEdge{});
  shape("rim", SeenCircle{});
  shape("pipe", SeenCylinder{});
  const Vector3d edge_from(-80, -20, 60), edge_along = Vector3d(1, 0.1, 0.05).normalized(),
                                          between(0, -3, 28.5);
  const Vector3d edge_across = between - edge_along * edge_along.dot(between);
  const Vector3d rim_normal = Vector3d(-0.2, 0.3, 1).normalized(), rim_centre(30, 20, 50);
  const double rim_radius = 27.0, pipe_radius = 8.5;
  const Vector3d pipe_axis = Vector3d(0.9, -0.3, 0.2).normalized(), pipe_from(-60, 40, -40);
  for (std::size_t p = 0; p < build.photos(); ++p) {
    const double shift = 3.0 * static_cast<double>(p);  // never the same places twice
    for (int i = 0; i < 4; ++i) {
      build.along("edge 1", p, edge_from + (shift + 35.0 * i) * edge_along);
      build.along("edge 2", p, edge_from + edge_across + (shift + 32.0 * i) * edge_along);
    }
    for (const Vector3d& at : circle_places(rim_centre, rim_normal, rim_radius, 8, 0.1 * shift,
                                            0.1 * shift + 2 * std::numbers::pi))
      build.along("rim", p, at);
    // The outline of a cylinder: where a plane through the camera touches it.
    const Vector3d to_camera = build.camera(p) - pipe_from;
    const Vector3d beside = to_camera - pipe_axis * pipe_axis.dot(to_camera);
    const double cosine = pipe_radius / beside.norm();
    const Vector3d u = beside.normalized();
    for (const int side : {1, 2}) {
      const Vector3d normal =
          cosine * u + (side == 1 ? 1 : -1) * std::sqrt(1 - cosine * cosine) * pipe_axis.cross(u);
      for (int i = 0; i < 3; ++i)
        build.along("pipe", p, pipe_from + pipe_radius * normal + (shift + 30.0 * i) * pipe_axis,
                    side);
    }
  }
  dossier.axes = AxesNames{"plane a", "line", "a 1"};

  // What is asked, and what is true.
  const auto& at = result.survey.true_points;
  ask("gap of planes", Gap{"plane a", "plane b"}, 41.5);
  ask("gap of edges", Gap{"edge 1", "edge 2"}, edge_across.norm());
  ask("offset from a plane", OffsetFromPlane{"o 1", {"plane a"}}, at.at("o 1").z() + 20);
  ask("offset from a lifted plane", OffsetFromPlane{"o 1", {"lifted"}}, at.at("o 1").z() + 8);
  ask("offset from a mid-plane", OffsetFromPlane{"o 1", {"mid"}}, at.at("o 1").z() - 0.75);
  const Vector3d line_direction = (line_to - line_from).normalized();
  const auto from_line = [&](const Vector3d& place, const Vector3d& on, const Vector3d& direction) {
    return (place - on).cross(direction).norm();
  };
  ask("offset from a line", OffsetFromLine{"o 2", "line", ""},
      from_line(at.at("o 2"), line_from, line_direction));
  ask("offset from a seen edge", OffsetFromLine{"o 2", "edge 1", ""},
      from_line(at.at("o 2"), edge_from, edge_along));
  ask("offset from a pipe's axis", OffsetFromLine{"a 3", "pipe", ""},
      from_line(at.at("a 3"), pipe_from, pipe_axis));
  const Vector3d corner = Vector3d(100, 0, -20);  // plane a and slope cross along y there
  ask("offset from a crossing", OffsetFromLine{"o 3", "corner line", ""},
      from_line(at.at("o 3"), corner, Vector3d::UnitY()));
  const auto angle_of = [](const Vector3d& a, const Vector3d& b) {
    return std::atan2(a.cross(b).norm(), std::abs(a.dot(b)));
  };
  ask("angle of planes", AngleBetween{"plane a", "slope"}, tilt);
  ask("angle of line and edge", AngleBetween{"line", "edge 1"},
      angle_of(line_direction, edge_along));
  ask("angle of line and plane", AngleBetween{"line", "plane a"},
      std::asin(std::abs(line_direction.z())));
  ask("angle of rim and plane", AngleBetween{"rim", "plane a"}, angle_of(rim_normal, up));
  ask("radius, fitted circle", Radius{"round"}, 34.0);
  ask("diameter, seen rim", Diameter{"rim"}, 2 * rim_radius);
  ask("diameter, ball", Diameter{"ball"}, 50.0);
  ask("diameter, fitted cylinder", Diameter{"barrel"}, 28.0);
  ask("diameter, seen pipe", Diameter{"pipe"}, 2 * pipe_radius);
  ask("cone angle", ConeAngle{"funnel"}, 2 * std::atan(16.0 / 40.0));
  ask("distance of centres", Distance{"rim", "round"}, (rim_centre - round_centre).norm());
  ask("distance of lines", Distance{"line", "edge 1"},
      std::abs((edge_from - line_from).dot(line_direction.cross(edge_along).normalized())));
  // Where the line meets the slope: from line_from by t along it.
  const Vector3d slope_normal(-std::sin(tilt), 0, std::cos(tilt));
  const double t =
      slope_normal.dot(Vector3d(100, 0, -20) - line_from) / slope_normal.dot(line_direction);
  ask("distance to a crossing", Distance{"pierced", "a 1"},
      (line_from + t * line_direction - at.at("a 1")).norm());
  // An edge runs to the right, or else downwards, in the first photo.
  const Vector2d runs =
      calib::project(result.survey.true_camera, result.survey.true_poses[0],
                     edge_from + 50 * edge_along) -
      calib::project(result.survey.true_camera, result.survey.true_poses[0], edge_from);
  const double towards = runs[std::abs(runs.x()) >= std::abs(runs.y()) ? 0 : 1] > 0 ? 1 : -1;
  ask("along an edge", DistanceAlong{"a 1", "a 3", "edge 1", ""},
      towards * (at.at("a 3") - at.at("a 1")).dot(edge_along));
  double chain = 0;
  for (std::size_t i = 0; i + 1 < outline_names.size(); ++i)
    chain += (at.at(outline_names[i + 1]) - at.at(outline_names[i])).norm();
  ask("chain", ChainLength{outline_names}, chain);
  ask("arc", ArcLength{"round", "r 1", "r 3", ""}, 34.0 * std::numbers::pi / 2);
  ask("arc the long way", ArcLength{"round", "r 1", "r 3", "r 6"}, 34.0 * 1.5 * std::numbers::pi);
  ask("pitch", RowPitch{row_names}, row_step.norm());
  ask("near zero row departure", RowDeparture{row_names}, 0.0);
  Vector3d area = Vector3d::Zero();
  for (std::size_t i = 0; i < outline_names.size(); ++i)
    area +=
        0.5 * at.at(outline_names[i]).cross(at.at(outline_names[(i + 1) % outline_names.size()]));
  ask("area", OutlineArea{outline_names}, area.norm());
  const Vector3d x_axis = Vector3d(line_direction.x(), line_direction.y(), 0).normalized(),
                 y_axis = up.cross(x_axis);
  ask("x", Coordinate{"o 4", "x"}, x_axis.dot(at.at("o 4") - at.at("a 1")));
  ask("y", Coordinate{"o 4", "y"}, y_axis.dot(at.at("o 4") - line_from));
  ask("z", Coordinate{"o 4", "z"}, at.at("o 4").z() + 20);
  const Vector3d image =
      halves[6] - 2 * mirror_normal * mirror_normal.dot(halves[6] - mirror_place);
  ask("mirror departure", MirrorDeparture{"middle", half_names[6], half_names[7]},
      (image - halves[7]).norm());
  ask("near zero mirror departure", MirrorDeparture{"middle", half_names[0], half_names[1]}, 0.0);
  return result;
}

}  // namespace testing_support
