// How wide a text is in the sheets' typeface.
#pragma once

#include <memory>
#include <string>

namespace measure {

/// DejaVu Sans, by cairo without hinting: widths grow in proportion to the size.
class TextWidth {
 public:
  TextWidth();
  TextWidth(TextWidth&&) noexcept;
  TextWidth& operator=(TextWidth&&) noexcept;
  ~TextWidth();
  /// In the unit of `size`, the height of an em.
  [[nodiscard]] double operator()(const std::string& text, double size, bool bold = false) const;

 private:
  struct Fonts;
  std::unique_ptr<Fonts> fonts_;
};

}  // namespace measure
