#include "tests/support/analytic_marks.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace testing_support {
namespace {

constexpr double kRadian = std::numbers::pi / 180.0;
constexpr double kWhite = 255.0;

Eigen::Vector2d towards(double deg) { return {std::cos(deg * kRadian), std::sin(deg * kRadian)}; }

// Inside a wedge whose corner is rounded off by a circle that touches both edges.
bool in_wedge(const Eigen::Vector2d& offset, double first_deg, double opening_deg,
              double round_off_px) {
  const Eigen::Vector2d along1 = towards(first_deg), along2 = towards(first_deg + opening_deg);
  const Eigen::Vector2d in1(-along1.y(), along1.x()), in2(along2.y(), -along2.x());
  const double a = in1.dot(offset), b = in2.dot(offset);
  if (a < 0.0 || b < 0.0) {
    return false;
  }
  if (round_off_px <= 0.0) {
    return true;
  }
  const double half = 0.5 * opening_deg * kRadian;
  const Eigen::Vector2d middle =
      round_off_px / std::sin(half) * towards(first_deg + 0.5 * opening_deg);
  const double touch = round_off_px / std::tan(half);
  const bool beyond = along1.dot(offset) > touch || along2.dot(offset) > touch;
  return beyond || (offset - middle).norm() <= round_off_px;
}

double shaded(double light, const Eigen::Vector2d& at, const cv::Size& size, double shading) {
  return light * (1.0 + shading * (at.x() / size.width + 0.5 * at.y() / size.height - 0.75));
}

}  // namespace

double light_of(double grey, double exponent) { return std::pow(grey / kWhite, exponent); }

cv::Mat develop(cv::Size size, const std::function<double(const Eigen::Vector2d&)>& light,
                const Development& development, int subsamples) {
  cv::Mat image(size, CV_32F);
  for (int y = 0; y < size.height; ++y) {
    for (int x = 0; x < size.width; ++x) {
      const auto at = [&](double dx, double dy) { return light(Eigen::Vector2d(x + dx, y + dy)); };
      const double middle = at(0.0, 0.0);
      // Few subsamples: light that is smooth everywhere.
      double most = subsamples < 8 ? 1e9 : 0.0;
      for (const double dx : {-0.5, 0.0, 0.5}) {
        for (const double dy : {-0.5, 0.0, 0.5}) {
          most = std::max(most, std::abs(at(dx, dy) - middle));
        }
      }
      double sum = middle;
      if (most > 0.02 * middle + 1e-4) {
        sum = 0.0;
        for (int j = 0; j < subsamples; ++j) {
          for (int i = 0; i < subsamples; ++i) {
            sum += at((i + 0.5) / subsamples - 0.5, (j + 0.5) / subsamples - 0.5);
          }
        }
        sum /= subsamples * subsamples;
      }
      image.at<float>(y, x) = static_cast<float>(sum);
    }
  }
  if (development.blur_px > 0.0) {
    const int reach = 2 * static_cast<int>(std::ceil(5.0 * development.blur_px)) + 1;
    cv::GaussianBlur(image, image, cv::Size(reach, reach), development.blur_px, development.blur_px,
                     cv::BORDER_REPLICATE);
  }
  cv::pow(cv::max(image, 0.0), 1.0 / development.exponent, image);
  image *= kWhite;
  if (development.noise_grey > 0.0) {
    cv::RNG random(development.seed * 7919U + 17U);
    cv::Mat noise(size, CV_32F);
    random.fill(noise, cv::RNG::NORMAL, 0.0, 1.0);
    if (development.grain_px > 0.0) {
      cv::GaussianBlur(noise, noise, {}, development.grain_px);
      cv::Scalar mean, deviation;
      cv::meanStdDev(noise, mean, deviation);
      noise /= deviation[0];
    }
    image += noise * development.noise_grey;
  }
  cv::Mat pixels;
  if (development.sixteen_bit) {
    image.convertTo(pixels, CV_16U, 257.0);
    return pixels;
  }
  image.convertTo(pixels, CV_8U);
  if (development.jpeg_quality > 0) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", pixels, bytes, {cv::IMWRITE_JPEG_QUALITY, development.jpeg_quality});
    pixels = cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
  }
  return pixels;
}

cv::Mat make_corner(const CornerSpec& spec) {
  const double inside = light_of(spec.inside, spec.development.exponent);
  const double outside = light_of(spec.outside, spec.development.exponent);
  return develop(
      spec.size,
      [&](const Eigen::Vector2d& at) {
        const bool in =
            in_wedge(at - spec.apex_px, spec.first_deg, spec.opening_deg, spec.round_off_px);
        return shaded(in ? inside : outside, at, spec.size, spec.shading);
      },
      spec.development);
}

Disc make_disc(const DiscSpec& spec) {
  const double inside = light_of(spec.inside, spec.development.exponent);
  const double outside = light_of(spec.outside, spec.development.exponent);
  // The camera's ray through the centre, and a plane across it that is then tilted.
  const Eigen::Vector3d ray = calib::unproject(spec.camera, spec.centre_px)->homogeneous();
  const Eigen::Vector3d axis(-std::sin(spec.tilt_towards_deg * kRadian),
                             std::cos(spec.tilt_towards_deg * kRadian), 0.0);
  Disc disc;
  disc.normal = calib::rotation_from_vector(axis * (spec.tilt_deg * kRadian)) *
                Eigen::Vector3d(-ray.normalized());
  const double distance = 1.0, radius = spec.radius_px / spec.camera.fx;
  const Eigen::Vector3d centre = distance * ray;
  const Eigen::Vector3d across = disc.normal.unitOrthogonal();
  const Eigen::Vector3d other = disc.normal.cross(across);
  const double covering = light_of(spec.shine, spec.development.exponent);
  const bool distorted = spec.camera.k1 != 0.0 || spec.camera.k2 != 0.0;
  disc.pixels = develop(
      spec.size,
      [&](const Eigen::Vector2d& at) {
        Eigen::Vector2d ideal((at.x() - spec.camera.cx) / spec.camera.fx,
                              (at.y() - spec.camera.cy) / spec.camera.fy);
        if (distorted) {
          ideal = *calib::unproject(spec.camera, at);
        }
        const Eigen::Vector3d way = ideal.homogeneous();
        const Eigen::Vector3d met = way * (disc.normal.dot(centre) / disc.normal.dot(way));
        const double off = (met - centre).norm();
        const double turn = std::atan2((met - centre).dot(other), (met - centre).dot(across)) /
                                (2.0 * std::numbers::pi) +
                            0.5;
        const bool shine = turn < spec.shine_turn && off > 0.7 * radius && off < 1.3 * radius;
        return shaded(shine ? covering : (off <= radius ? inside : outside), at, spec.size,
                      spec.shading);
      },
      spec.development);
  return disc;
}

cv::Mat make_crossing(const CrossingSpec& spec) {
  if (!spec.lines) {
    return make_corner({spec.size, spec.crossing_px, spec.first_deg,
                        spec.second_deg - spec.first_deg, spec.inside, spec.outside, spec.shading,
                        spec.round_off_px, spec.development});
  }
  const double line = light_of(spec.inside, spec.development.exponent);
  const double ground = light_of(spec.outside, spec.development.exponent);
  return develop(
      spec.size,
      [&](const Eigen::Vector2d& at) {
        const Eigen::Vector2d offset = at - spec.crossing_px;
        bool on = false;
        for (const double deg : {spec.first_deg, spec.second_deg}) {
          const Eigen::Vector2d along = towards(deg);
          on = on ||
               std::abs(along.x() * offset.y() - along.y() * offset.x()) < 0.5 * spec.line_width_px;
        }
        return shaded(on ? line : ground, at, spec.size, spec.shading);
      },
      spec.development);
}

MatchPair make_match(const MatchSpec& spec) {
  // The paint: waves of random direction and phase, longer than a grain, so that it is known at
  // every place between pixels.
  struct Wave {
    Eigen::Vector2d number;
    double phase;
  };
  cv::RNG random(spec.seed * 104729U + 5U);
  std::vector<Wave> waves;
  constexpr int kWaves = 24;
  for (int i = 0; i < kWaves; ++i) {
    const double angle = random.uniform(0.0, 2.0 * std::numbers::pi);
    const double length_px = spec.grain_px * random.uniform(1.5, 6.0);
    waves.push_back(
        {2.0 * std::numbers::pi / length_px * Eigen::Vector2d(std::cos(angle), std::sin(angle)),
         random.uniform(0.0, 2.0 * std::numbers::pi)});
  }
  const auto paint = [&](const Eigen::Vector2d& offset) {
    double sum = 0.0;
    for (const Wave& wave : waves) {
      sum += std::cos(wave.number.dot(offset) + wave.phase);
    }
    return std::clamp(120.0 + spec.contrast * sum * std::sqrt(2.0 / kWaves), 8.0, 240.0);
  };
  MatchPair pair;
  constexpr int kSubsamples = 3;
  pair.pattern = develop(
      spec.size,
      [&](const Eigen::Vector2d& at) {
        return light_of(paint(at - spec.pattern_px), spec.pattern.exponent);
      },
      spec.pattern, kSubsamples);
  // photo = place + change·offset / (1 + perspective·offset), turned around.
  const Eigen::Matrix2d inverse = spec.change.inverse();
  pair.photo = develop(
      spec.size,
      [&](const Eigen::Vector2d& at) {
        const Eigen::Vector2d q = inverse * (at - spec.place_px);
        const Eigen::Vector2d offset = q / (1.0 - spec.perspective.dot(q));
        return spec.brightness * light_of(paint(offset), spec.photo.exponent);
      },
      spec.photo, kSubsamples);
  return pair;
}

}  // namespace testing_support
