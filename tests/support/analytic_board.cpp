#include "tests/support/analytic_board.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include <Eigen/Dense>
#include <opencv2/core/utility.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

namespace testing_support {
namespace {

constexpr double kRadiansPerDegree = std::numbers::pi / 180.0;
constexpr int kSubsamples = 16;

Eigen::Matrix3d rotation_about(const Eigen::Vector3d& axis, double angle_rad) {
  return calib::rotation_from_vector(axis.normalized() * angle_rad);
}

// Ideal position of a distorted one by fixed-point iteration: fast, and exact to 1e-10 for mild
// distortion.
Eigen::Vector2d ideal_of(const calib::Intrinsics& camera, const Eigen::Vector2d& distorted) {
  Eigen::Vector2d ideal = distorted;
  for (int i = 0; i < 12; ++i) {
    const Eigen::Vector2d error = calib::distort(camera, ideal) - distorted;
    ideal -= error;
    if (error.squaredNorm() < 1e-20) {
      break;
    }
  }
  return ideal;
}

// Blur, light, noise and JPEG, the same for boards and targets.
cv::Mat developed(cv::Mat image, double blur_px, double grey_curve, double noise_grey,
                  int jpeg_quality, std::uint32_t seed) {
  if (blur_px > 0.0) {
    const int reach = 2 * static_cast<int>(std::ceil(5.0 * blur_px)) + 1;
    cv::GaussianBlur(image, image, cv::Size(reach, reach), blur_px, blur_px, cv::BORDER_REPLICATE);
  }
  if (grey_curve != 1.0) {
    constexpr double kWhite = 255.0;
    cv::pow(image / kWhite, 1.0 / grey_curve, image);
    image *= kWhite;
  }
  if (noise_grey > 0.0) {
    cv::RNG random(seed);
    cv::Mat noise(image.size(), CV_32F);
    random.fill(noise, cv::RNG::NORMAL, 0.0, noise_grey);
    image += noise;
  }
  cv::Mat pixels;
  image.convertTo(pixels, CV_8U);
  if (jpeg_quality > 0) {
    std::vector<unsigned char> bytes;
    cv::imencode(".jpg", pixels, bytes, {cv::IMWRITE_JPEG_QUALITY, jpeg_quality});
    pixels = cv::imdecode(bytes, cv::IMREAD_GRAYSCALE);
  }
  return pixels;
}

}  // namespace

AnalyticBoard make_analytic_board(const AnalyticBoardSpec& spec) {
  const auto& board = spec.board;
  const auto& camera = spec.camera;
  const double width_mm = (board.inner_columns - 1) * board.square_mm;
  const double height_mm = (board.inner_rows - 1) * board.square_mm;
  const Eigen::Vector3d middle_mm(0.5 * width_mm, 0.5 * height_mm, 0.0);

  const Eigen::Vector3d lean_axis(-std::sin(spec.tilt_towards_deg * kRadiansPerDegree),
                                  std::cos(spec.tilt_towards_deg * kRadiansPerDegree), 0.0);
  const Eigen::Matrix3d camera_from_board =
      rotation_about(lean_axis, spec.tilt_deg * kRadiansPerDegree) *
      rotation_about(Eigen::Vector3d::UnitZ(), spec.roll_deg * kRadiansPerDegree);
  const double diagonal_mm =
      std::hypot(width_mm + 2.0 * board.square_mm, height_mm + 2.0 * board.square_mm);
  const double distance_mm =
      camera.fx * diagonal_mm / (spec.fill * std::min(spec.size.width, spec.size.height));
  const Eigen::Vector2d centre_px =
      spec.centre_px.x() >= 0.0
          ? spec.centre_px
          : Eigen::Vector2d(0.5 * spec.size.width - 0.5, 0.5 * spec.size.height - 0.5);
  const Eigen::Vector2d centre = ideal_of(
      camera, {(centre_px.x() - camera.cx) / camera.fx, (centre_px.y() - camera.cy) / camera.fy});
  const Eigen::Vector3d target_mm = distance_mm * Eigen::Vector3d(centre.x(), centre.y(), 1.0);
  const calib::Pose pose =
      calib::Pose::from_matrix(camera_from_board, target_mm - camera_from_board * middle_mm);

  AnalyticBoard result;
  for (const auto& corner_mm : calib::corner_positions_mm(board)) {
    result.corners_px.push_back(calib::project(camera, pose, corner_mm));
  }

  // Plane coordinates in squares from ideal normalised coordinates: the inverse of [r1 r2 t].
  Eigen::Matrix3d image_from_board;
  image_from_board << camera_from_board.col(0), camera_from_board.col(1), pose.translation;
  const Eigen::Matrix3d board_from_image = image_from_board.inverse();
  const auto squares_at = [&](double x_px, double y_px) -> Eigen::Vector2d {
    const Eigen::Vector2d ideal =
        ideal_of(camera, {(x_px - camera.cx) / camera.fx, (y_px - camera.cy) / camera.fy});
    const Eigen::Vector3d plane = board_from_image * ideal.homogeneous();
    return plane.hnormalized() / board.square_mm;
  };
  const double last_column = board.inner_columns, last_row = board.inner_rows;
  const auto grey_at = [&](const Eigen::Vector2d& squares) {
    const double u = squares.x() + 1.0, v = squares.y() + 1.0;  // 0 at the board's own corner
    const double margin = spec.margin_squares;
    if (u < -margin || v < -margin || u > last_column + 1.0 + margin ||
        v > last_row + 1.0 + margin) {
      return spec.background;
    }
    if (u < 0.0 || v < 0.0 || u > last_column + 1.0 || v > last_row + 1.0) {
      return spec.white;
    }
    return (static_cast<int>(std::floor(u)) + static_cast<int>(std::floor(v))) % 2 == 0
               ? spec.black
               : spec.white;
  };

  cv::Mat image(spec.size.height, spec.size.width, CV_32F);
  cv::parallel_for_(cv::Range(0, image.rows), [&](const cv::Range& rows) {
    std::vector<Eigen::Vector2d> above(static_cast<std::size_t>(image.cols) + 1),
        below(above.size());
    const auto fill = [&](std::vector<Eigen::Vector2d>& line, double y) {
      for (std::size_t x = 0; x < line.size(); ++x) {
        line[x] = squares_at(static_cast<double>(x) - 0.5, y);
      }
    };
    fill(below, rows.start - 0.5);
    for (int y = rows.start; y < rows.end; ++y) {
      std::swap(above, below);
      fill(below, y + 0.5);
      for (int x = 0; x < image.cols; ++x) {
        const auto at = static_cast<std::size_t>(x);
        // A pixel is plain if all its four corners lie within one square (the margins count as
        // squares).
        const auto cell = [](const Eigen::Vector2d& s) {
          return Eigen::Vector2d(std::floor(s.x()), std::floor(s.y()));
        };
        const Eigen::Vector2d first = cell(above[at]);
        if (cell(above[at + 1]) == first && cell(below[at]) == first &&
            cell(below[at + 1]) == first) {
          image.at<float>(y, x) = static_cast<float>(grey_at(above[at]));
          continue;
        }
        // Over one pixel the mapping is linear in 1e-6 of a pixel.
        double sum = 0.0;
        for (int j = 0; j < kSubsamples; ++j) {
          const double t = (j + 0.5) / kSubsamples;
          const Eigen::Vector2d left = (1.0 - t) * above[at] + t * below[at];
          const Eigen::Vector2d right = (1.0 - t) * above[at + 1] + t * below[at + 1];
          for (int i = 0; i < kSubsamples; ++i) {
            const double s = (i + 0.5) / kSubsamples;
            sum += grey_at((1.0 - s) * left + s * right);
          }
        }
        image.at<float>(y, x) = static_cast<float>(sum / (kSubsamples * kSubsamples));
      }
    }
  });
  if (spec.shading != 0.0 || spec.shadow != 0.0) {
    for (int y = 0; y < image.rows; ++y) {
      for (int x = 0; x < image.cols; ++x) {
        const double across = static_cast<double>(x) / image.cols,
                     down = static_cast<double>(y) / image.rows;
        const double border = (across + 0.4 * down - 0.7) * 40.0;
        image.at<float>(y, x) *= static_cast<float>(
            (1.0 - spec.shading * across) * (1.0 - spec.shadow * 0.5 * (1.0 + std::tanh(border))));
      }
    }
  }
  result.pixels = developed(image, spec.blur_px, spec.grey_curve, spec.noise_grey,
                            spec.jpeg_quality, spec.seed);
  return result;
}

cv::Mat make_texture(calib::ImageSize size, std::uint32_t seed) {
  cv::RNG random(seed);
  cv::Mat sum(size.height, size.width, CV_32F, cv::Scalar(120.0));
  for (int octave = 1; octave <= 9; ++octave) {
    const int step = 1 << octave;
    cv::Mat coarse(size.height / step + 4, size.width / step + 4, CV_32F), fine;
    random.fill(coarse, cv::RNG::NORMAL, 0.0, 16.0);
    cv::resize(coarse, fine, sum.size(), 0.0, 0.0, cv::INTER_CUBIC);
    sum += fine;
  }
  cv::Mat pixels;
  sum.convertTo(pixels, CV_8U);
  const int longest = std::max(size.width, size.height);
  for (int i = 0; i < 600; ++i) {  // dark and bright tiles and bars at all angles
    const auto width = static_cast<float>(random.uniform(longest / 400.0, longest / 25.0));
    const auto height = random.uniform(0, 3) == 0 ? width * 8.0F : width;
    const cv::RotatedRect tile(cv::Point2f(static_cast<float>(random.uniform(0, size.width)),
                                           static_cast<float>(random.uniform(0, size.height))),
                               cv::Size2f(width, height),
                               static_cast<float>(random.uniform(0.0, 180.0)));
    cv::Point2f corners[4];
    tile.points(corners);
    std::vector<cv::Point> polygon(corners, corners + 4);
    cv::fillConvexPoly(pixels, polygon, cv::Scalar(random.uniform(0, 2) == 0 ? 30 : 220),
                       cv::LINE_AA);
  }
  return pixels;
}

cv::Mat make_quartered_target(const QuarteredTargetSpec& spec) {
  const auto turn = [](double deg) {
    return Eigen::Rotation2Dd(deg * kRadiansPerDegree).toRotationMatrix();
  };
  Eigen::Matrix2d shrink = Eigen::Vector2d(1.0, spec.squeeze).asDiagonal();
  const Eigen::Matrix2d image_from_disc =
      turn(spec.squeeze_angle_deg) * shrink * turn(spec.roll_deg - spec.squeeze_angle_deg);
  const Eigen::Matrix2d disc_from_image = image_from_disc.inverse();
  const double radius_px = 0.5 * spec.diameter_px;
  cv::Mat image(spec.size.height, spec.size.width, CV_32F);
  for (int y = 0; y < image.rows; ++y) {
    for (int x = 0; x < image.cols; ++x) {
      double sum = 0.0;
      for (int j = 0; j < kSubsamples; ++j) {
        for (int i = 0; i < kSubsamples; ++i) {
          const Eigen::Vector2d at(x - 0.5 + (i + 0.5) / kSubsamples,
                                   y - 0.5 + (j + 0.5) / kSubsamples);
          const Eigen::Vector2d disc = disc_from_image * (at - spec.centre_px);
          sum += disc.norm() > radius_px ? spec.background
                                         : (disc.x() * disc.y() > 0.0 ? spec.black : spec.white);
        }
      }
      image.at<float>(y, x) = static_cast<float>(sum / (kSubsamples * kSubsamples));
    }
  }
  return developed(image, spec.blur_px, 1.0, spec.noise_grey, spec.jpeg_quality, spec.seed);
}

}  // namespace testing_support
