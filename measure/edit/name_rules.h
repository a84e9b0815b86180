// Which names a dossier takes.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace measure {

/// Whether the bytes are UTF-8 (no overlong forms, no surrogates). Source: RFC 3629, section 4.
[[nodiscard]] bool is_utf8(std::string_view text);

/// The sentence why a name cannot be used, or nothing: any Unicode and spaces inside are allowed;
/// empty names, control characters, bytes that are no UTF-8, a space at either end and more than
/// 200 bytes are not.
///
/// @param what  "point", "photo" …
[[nodiscard]] std::optional<std::string> name_problem(std::string_view name, std::string_view what);

/// The name in quotes, with control characters and bad bytes made visible, for sentences.
[[nodiscard]] std::string in_quotes(std::string_view name);

}  // namespace measure
