// Pages with a running head and foot, and text set on them. For the .cpp files of this room only.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <cairo.h>

#include "measure/sheet/text_width.h"

namespace measure::internal {

inline constexpr double kPointsPerMillimetre = 72.0 / 25.4;

struct Ink {
  double r = 0.1, g = 0.1, b = 0.1;
};
inline constexpr Ink kBlack{0.10, 0.10, 0.10};
inline constexpr Ink kGrey{0.36, 0.36, 0.36};
inline constexpr Ink kRule{0.70, 0.70, 0.70};
inline constexpr Ink kPale{0.94, 0.95, 0.96};
inline constexpr Ink kAccent{0.04, 0.23, 0.48};
inline constexpr Ink kWarning{0.62, 0.12, 0.05};
inline constexpr Ink kWhite{1.0, 1.0, 1.0};

struct Type {
  double size = 8.5;  ///< points
  bool bold = false;
  Ink ink = kBlack;
};
inline constexpr Type kTitle{19.0, true, kBlack};
inline constexpr Type kHeading{11.5, true, kAccent};
inline constexpr Type kBody{8.5, false, kBlack};
inline constexpr Type kStrong{8.5, true, kBlack};
inline constexpr Type kSmall{7.4, false, kGrey};

/// A document being drawn, in points from the top left; knows where on the page it stands.
class PdfPages {
 public:
  /// @param total_pages  for "page 2 of 9"; 0 while they are being counted, on a surface of no
  /// account.
  PdfPages(cairo_surface_t* surface, double width, double height, int total_pages,
           std::string running_head, std::string running_foot);
  PdfPages(const PdfPages&) = delete;
  PdfPages& operator=(const PdfPages&) = delete;
  ~PdfPages();

  [[nodiscard]] bool counting() const { return total_pages_ == 0; }
  [[nodiscard]] int page() const { return page_; }
  [[nodiscard]] double left() const;
  [[nodiscard]] double width() const;  ///< between the margins
  [[nodiscard]] double bottom() const;
  [[nodiscard]] double top() const;
  [[nodiscard]] cairo_t* cairo() { return cairo_; }
  double y = 0;  ///< where the next thing begins

  /// Begins a new page unless so much is free; true if it did.
  bool need(double height);
  void new_page();
  /// Ends the last page.
  void finish();

  /// @param baseline  of the text.
  void text(double x, double baseline, const std::string& text, const Type& type);
  void text_right(double x, double baseline, const std::string& text, const Type& type);
  [[nodiscard]] double width_of(const std::string& text, const Type& type) const;
  [[nodiscard]] std::vector<std::string> wrapped(const std::string& text, const Type& type,
                                                 double width) const;
  /// Lines of wrapped text from y on, over as many pages as it takes.
  void paragraph(const std::string& text, const Type& type, double x, double width);
  void rule(double y_at, const Ink& ink = kRule, double thickness = 0.5);
  void fill(double x, double y_at, double w, double h, const Ink& ink);
  void heading(const std::string& text, double room_below);
  static double line_height(const Type& type) { return 1.34 * type.size; }

 private:
  void choose(const Type& type);
  void frame();

  cairo_t* cairo_;
  TextWidth measure_;
  double page_width_, page_height_;
  int total_pages_, page_ = 0;
  std::string running_head_, running_foot_;
};

}  // namespace measure::internal
