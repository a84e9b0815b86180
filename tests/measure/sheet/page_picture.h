// A page of a PDF as a picture, by pdftoppm, and where its lines lie, in millimetres.
#pragma once

#include <cmath>
#include <cstdint>
#include <fstream>
#include <limits>
#include <optional>
#include <sstream>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "tests/measure/sheet/outside_program.h"

namespace testing_support {

inline constexpr double kDotsPerInch = 600.0;

/// Grey values of one page. Pixel (i, j) covers its square: its middle lies at (i + ½, j + ½).
class PagePicture {
 public:
  PagePicture(const std::string& pdf, int page) {
    const std::string root = pdf + "-" + std::to_string(page);
    const std::string number = std::to_string(page);
    const auto end = run_outside("pdftoppm -gray -r 600 -singlefile -f " + number + " -l " +
                                 number + " " + pdf + " " + root);
    std::ifstream in(root + ".pgm", std::ios::binary);
    std::string kind;
    int largest = 0;
    in >> kind >> width_ >> height_ >> largest;
    in.get();
    if (end.code != 0 || kind != "P5" || largest != 255) {
      width_ = height_ = 0;
      return;
    }
    grey_.resize(static_cast<std::size_t>(width_) * static_cast<std::size_t>(height_));
    in.read(reinterpret_cast<char*>(grey_.data()), static_cast<std::streamsize>(grey_.size()));
  }

  [[nodiscard]] bool is_read() const { return width_ > 0; }
  [[nodiscard]] double width_mm() const { return width_ * kPixel_mm; }
  [[nodiscard]] double height_mm() const { return height_ * kPixel_mm; }

  /// 0 white to 1 black, between the pixels' middles.
  [[nodiscard]] double dark(const Eigen::Vector2d& at_mm) const {
    const double x = at_mm.x() / kPixel_mm - 0.5, y = at_mm.y() / kPixel_mm - 0.5;
    const int i = static_cast<int>(std::floor(x)), j = static_cast<int>(std::floor(y));
    const double s = x - i, t = y - j;
    return (1 - t) * ((1 - s) * pixel(i, j) + s * pixel(i + 1, j)) +
           t * ((1 - s) * pixel(i, j + 1) + s * pixel(i + 1, j + 1));
  }

  /// Middles of the dark lines that a probe from `from` to `to` crosses, as distances from `from`;
  /// the probe is `width` wide, and a line must cross all of it.
  [[nodiscard]] std::vector<double> lines(const Eigen::Vector2d& from, const Eigen::Vector2d& to,
                                          double width_mm = 0.4) const {
    const double length = (to - from).norm(), step = 0.25 * kPixel_mm;
    const Eigen::Vector2d along = (to - from) / length, across(-along.y(), along.x());
    constexpr int kHalf = 4;
    std::vector<double> middles;
    double weight = 0.0, moment = 0.0;
    bool inside = false;
    for (double at = 0.0; at <= length; at += step) {
      double mean = 0.0;
      for (int i = -kHalf; i <= kHalf; ++i) {
        mean += dark(from + at * along + 0.5 * width_mm * i / kHalf * across) / (2 * kHalf + 1);
      }
      if (mean > 0.5) {
        weight += mean;
        moment += mean * at;
        inside = true;
      } else if (inside) {
        middles.push_back(moment / weight);
        weight = moment = 0.0;
        inside = false;
      }
    }
    return middles;
  }

  /// The line nearest to the middle of the probe.
  [[nodiscard]] std::optional<double> line(const Eigen::Vector2d& from,
                                           const Eigen::Vector2d& to) const {
    std::optional<double> nearest;
    const double middle = 0.5 * (to - from).norm();
    for (const double each : lines(from, to)) {
      if (!nearest || std::abs(each - middle) < std::abs(*nearest - middle)) {
        nearest = each;
      }
    }
    return nearest;
  }

 private:
  static constexpr double kPixel_mm = 25.4 / kDotsPerInch;

  [[nodiscard]] double pixel(int i, int j) const {
    if (i < 0 || j < 0 || i >= width_ || j >= height_) {
      return 0.0;
    }
    return 1.0 - grey_[static_cast<std::size_t>(j) * static_cast<std::size_t>(width_) +
                       static_cast<std::size_t>(i)] /
                     255.0;
  }

  int width_ = 0, height_ = 0;
  std::vector<std::uint8_t> grey_;
};

}  // namespace testing_support
