#include "calib/intrinsics/quality_pictures.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <iomanip>
#include <sstream>
#include <vector>

#include <Eigen/Core>

namespace calib {
namespace {

constexpr double kWidth = 900.0;  ///< of the frame in the picture, SVG units
constexpr double kMargin = 24.0;
constexpr double kCaption = 44.0;
constexpr int kCellsAcross = 8;

/// The frame of the photo in the picture: scale, and an SVG that is begun and ended alike.
class Frame {
 public:
  explicit Frame(ImageSize size)
      : size_(size), scale_(kWidth / std::max(size.width, 1)), height_(size.height * scale_) {
    svg_ << std::fixed << std::setprecision(2);
    svg_ << "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 " << kWidth + 2 * kMargin
         << ' ' << height_ + 2 * kMargin + kCaption
         << "\" font-family=\"sans-serif\" font-size=\"15\">\n"
         << "<rect width=\"100%\" height=\"100%\" fill=\"#ffffff\"/>\n";
  }
  [[nodiscard]] Eigen::Vector2d at(const Eigen::Vector2d& px) const {
    // Pixel (0, 0) is the centre of the first pixel: the frame begins half a pixel before it.
    return (px.array() + 0.5) * scale_ + kMargin;
  }
  [[nodiscard]] double scale() const { return scale_; }
  std::ostringstream& svg() { return svg_; }
  [[nodiscard]] std::string finish(const std::string& caption) {
    svg_ << "<rect x=\"" << kMargin << "\" y=\"" << kMargin << "\" width=\"" << kWidth
         << "\" height=\"" << height_ << "\" fill=\"none\" stroke=\"#222222\"/>\n"
         << "<text x=\"" << kMargin << "\" y=\"" << height_ + kMargin + 28 << "\" fill=\"#222222\">"
         << caption << "</text>\n</svg>\n";
    return svg_.str();
  }

 private:
  ImageSize size_;
  double scale_, height_;
  std::ostringstream svg_;
};

std::string short_number(double value) {
  std::ostringstream text;
  text << std::setprecision(3) << value;
  return text.str();
}

/// 1, 2 or 5 times a power of ten, not above the value.
double round_down(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  const double mantissa = value / power;
  return power * (mantissa >= 5 ? 5 : mantissa >= 2 ? 2 : 1);
}

/// Corners of the convex hull, by Andrew's monotone chain.
std::vector<Eigen::Vector2d> hull_of(std::vector<Eigen::Vector2d> points) {
  std::sort(points.begin(), points.end(), [](const Eigen::Vector2d& a, const Eigen::Vector2d& b) {
    return a.x() < b.x() || (a.x() == b.x() && a.y() < b.y());
  });
  std::vector<Eigen::Vector2d> hull;
  const auto add = [&](const Eigen::Vector2d& point, std::size_t least) {
    while (hull.size() > least + 1) {
      const Eigen::Vector2d a = hull.back() - hull[hull.size() - 2], b = point - hull.back();
      if (a.x() * b.y() - a.y() * b.x() > 0) break;
      hull.pop_back();
    }
    hull.push_back(point);
  };
  for (const auto& point : points) add(point, 0);
  const std::size_t lower = hull.size() - 1;
  for (auto point = points.rbegin(); point != points.rend(); ++point) add(*point, lower);
  if (hull.size() > 1) hull.pop_back();
  return hull;
}

}  // namespace

std::string residual_picture(const IntrinsicsSolution& solution) {
  Frame frame(solution.image_size);
  // A typical residual becomes a stroke of a fortieth of the picture.
  const double typical_px = std::max(solution.rms_px, 1e-6);
  const double factor = round_down(std::max(kWidth / 40 / (typical_px * frame.scale()), 1.0));
  for (const SolvedPhoto& photo : solution.photos) {
    for (const CornerResidual& corner : photo.corners) {
      const Eigen::Vector2d from = frame.at(corner.position_px);
      if (corner.left_out) {
        frame.svg() << "<path d=\"M" << from.x() - 5 << ' ' << from.y() - 5
                    << "l10 10m0 -10l-10 10\" stroke=\"#b00020\" "
                    << "stroke-width=\"1.5\" fill=\"none\"/>\n";
        continue;
      }
      const Eigen::Vector2d to = from + corner.residual_px * factor * frame.scale();
      frame.svg() << "<path d=\"M" << from.x() << ' ' << from.y() << 'L' << to.x() << ' ' << to.y()
                  << "\" stroke=\"#1f4e8c\" stroke-width=\"0.8\"/><circle cx=\"" << from.x()
                  << "\" cy=\"" << from.y() << "\" r=\"1.2\" fill=\"#1f4e8c\"/>\n";
    }
  }
  return frame.finish("Residuals, drawn " + short_number(factor) + " times as large; rms " +
                      short_number(solution.rms_px) + " px; crosses: corners left out");
}

std::string coverage_picture(const IntrinsicsSolution& solution) {
  Frame frame(solution.image_size);
  const int across = kCellsAcross;
  const int down = std::max(
      1, static_cast<int>(std::lround(static_cast<double>(across) * solution.image_size.height /
                                      std::max(solution.image_size.width, 1))));
  const double cell_width_px = static_cast<double>(solution.image_size.width) / across;
  const double cell_height_px = static_cast<double>(solution.image_size.height) / down;
  std::vector<int> count(static_cast<std::size_t>(across) * down, 0);
  for (const SolvedPhoto& photo : solution.photos) {
    for (const CornerResidual& corner : photo.corners) {
      if (corner.left_out) continue;
      const int column = std::clamp(
          static_cast<int>((corner.position_px.x() + 0.5) / cell_width_px), 0, across - 1);
      const int row = std::clamp(static_cast<int>((corner.position_px.y() + 0.5) / cell_height_px),
                                 0, down - 1);
      ++count[static_cast<std::size_t>(row) * across + column];
    }
  }
  const int most = std::max(1, *std::max_element(count.begin(), count.end()));
  int empty = 0;
  for (int row = 0; row < down; ++row) {
    for (int column = 0; column < across; ++column) {
      const int here = count[static_cast<std::size_t>(row) * across + column];
      empty += here == 0 ? 1 : 0;
      const Eigen::Vector2d corner =
          frame.at({column * cell_width_px - 0.5, row * cell_height_px - 0.5});
      const double width = cell_width_px * frame.scale(), height = cell_height_px * frame.scale();
      // An empty cell is told from a thin one by its colour, not by its shade.
      frame.svg() << "<rect x=\"" << corner.x() << "\" y=\"" << corner.y() << "\" width=\"" << width
                  << "\" height=\"" << height << "\" stroke=\"#ffffff\" fill=\""
                  << (here == 0 ? "#f3c9a5" : "#3f7f5f") << "\" fill-opacity=\""
                  << (here == 0 ? 1.0 : 0.15 + 0.6 * here / most) << "\"/>"
                  << "<text x=\"" << corner.x() + width / 2 << "\" y=\""
                  << corner.y() + height / 2 + 5 << "\" text-anchor=\"middle\" fill=\"#222222\">"
                  << here << "</text>\n";
    }
  }
  for (const SolvedPhoto& photo : solution.photos) {
    std::vector<Eigen::Vector2d> points;
    for (const CornerResidual& corner : photo.corners)
      points.push_back(frame.at(corner.position_px));
    if (points.size() < 3) continue;
    frame.svg() << "<polygon fill=\"none\" stroke=\"#444444\" stroke-width=\"0.7\" points=\"";
    for (const Eigen::Vector2d& point : hull_of(points))
      frame.svg() << point.x() << ',' << point.y() << ' ';
    frame.svg() << "\"/>\n";
  }
  return frame.finish(
      "Corners in each part of the frame, and the board's outline in " +
      std::to_string(solution.photos.size()) + " photos; " +
      (empty == 0 ? std::string("no part is empty") : std::to_string(empty) + " parts are empty"));
}

}  // namespace calib
