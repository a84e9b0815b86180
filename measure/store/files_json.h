// What `scantling sheet` prints with --json.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

namespace measure {

/// One line after schema/files.schema.json: the files in the order given, '/' between folders.
/// @param check  the sentence of the check lengths; empty: none was asked for.
[[nodiscard]] std::string files_json(const std::vector<std::filesystem::path>& files,
                                     const std::string& check,
                                     const std::vector<std::string>& warnings);

}  // namespace measure
