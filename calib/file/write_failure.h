// What a person is told when the system would not write. Private to this room.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace calib {

/// "FILE was not written: the disk is full …: make room and try again; nothing was changed."
/// @param error  errno of the call that failed.
[[nodiscard]] Unexpected<Problem> not_written(const std::filesystem::path& file, int error);

/// "the disk is full …: make room and try again"
[[nodiscard]] std::string write_remedy(int error);

/// 0, or the errno that stopped the writing.
[[nodiscard]] int write_all(int descriptor, std::string_view contents);

/// Brings what names the files of a folder to the disk: until then a power cut may take back a
/// rename or a removal. Some file systems cannot sync a folder; what they hold is whole there too,
/// so that is no failure.
void sync_folder_of(const std::filesystem::path& file);

}  // namespace calib
