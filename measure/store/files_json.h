// What a command prints of the files it wrote.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace measure {

/// One line: {"files": ["…", …]}, in the order given, '/' between folders.
[[nodiscard]] std::string files_json(const std::vector<std::filesystem::path>& files);

}  // namespace measure
