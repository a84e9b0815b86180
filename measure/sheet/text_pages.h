// Pages with a running head and foot, and text set on them. For the .cpp files of this room only.
#pragma once

#include <string>
#include <vector>

#include "measure/sheet/pdf_document.h"

namespace measure::internal {

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

/// Text that flows from page to page of a document in points; knows where on the page it stands.
class TextPages {
 public:
  /// @param total_pages  for "page 2 of 9"; 0 while they are being counted, in a document of no
  /// account.
  TextPages(PdfDocument& document, const Eigen::Vector2d& page_points, int total_pages,
            std::string running_head, std::string running_foot);

  [[nodiscard]] bool counting() const { return total_pages_ == 0; }
  [[nodiscard]] int page() const { return page_; }
  [[nodiscard]] double left() const;
  [[nodiscard]] double width() const;  ///< between the margins
  [[nodiscard]] double bottom() const;
  [[nodiscard]] double top() const;
  [[nodiscard]] cairo_t* cairo() { return document_.cairo(); }
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
  void frame();

  PdfDocument& document_;
  Eigen::Vector2d page_points_;
  int total_pages_, page_ = 0;
  std::string running_head_, running_foot_;
};

}  // namespace measure::internal
