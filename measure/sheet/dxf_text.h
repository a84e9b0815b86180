// Text in DXF files. Private to this room.
#pragma once

#include <string>
#include <string_view>

namespace measure {

/// Any UTF-8 text as DXF R2000 takes it: what is not ASCII as \U+XXXX (beyond 16 bits as a
/// surrogate pair, as UTF-16 has it), line ends and control characters as spaces. Source: the
/// format's published reference, "string group codes"; surrogate pairs from memory.
[[nodiscard]] std::string dxf_text(std::string_view text);

/// The same for text that is drawn: "%%" is parted by a zero-width space, since readers take it for
/// the start of a code.
[[nodiscard]] std::string dxf_drawn_text(std::string_view text);

}  // namespace measure
