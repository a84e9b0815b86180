// A PDF in the making: pages in millimetres or points, the sheet font, the same bytes for the same
// input. Private to this room: shows cairo.
#pragma once

#include <memory>
#include <string>

#include <Eigen/Core>
#include <cairo.h>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace measure {

class PdfDocument {
 public:
  enum class Unit { kMillimetre, kPoint };

  /// @param date  when it was made (ISO 8601), or empty: the file then tells none.
  /// @param unit  of what is drawn: from the top left corner of a page, x right, y down.
  PdfDocument(const Eigen::Vector2d& page_mm, const std::string& title, const std::string& date,
              Unit unit = Unit::kMillimetre);
  PdfDocument(const PdfDocument&) = delete;
  PdfDocument& operator=(const PdfDocument&) = delete;

  [[nodiscard]] cairo_t* cairo() { return cairo_.get(); }
  /// One line of text, `height` that of capitals; `turn_rad` clockwise as y points down, `grey` 0
  /// black to 1 white.
  void text(const std::string& words, const Eigen::Vector2d& at, double height,
            double turn_rad = 0.0, double grey = 0.0);
  /// Ends the page, which viewers then call by that name; without one they count.
  void next_page(const std::string& label = {});

  /// The finished file.
  ///
  /// Errors: a Problem (kOurs) where the library could not draw it.
  [[nodiscard]] calib::Result<std::string, calib::Problem> finish();

 private:
  std::string bytes_;
  bool has_date_ = false;
  std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface_;
  std::unique_ptr<cairo_t, decltype(&cairo_destroy)> cairo_;
};

}  // namespace measure
