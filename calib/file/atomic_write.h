// A file is written whole or not at all, whatever happens in between.
#pragma once

#include <filesystem>
#include <functional>
#include <span>
#include <string>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace calib {

/// Replaces the contents of `file`: a new file beside it is written, fsynced and renamed over it,
/// and the folder is fsynced. A kill or a power cut at any moment leaves the old contents or the
/// new, never a part. A link is followed, so that it stays a link; the permissions of an existing
/// file are kept.
///
/// Errors: a Problem (kInput) naming the file and the remedy if the disk is full, the folder is
/// missing or
///         may not be written, or the path is a folder. Then the old contents stand and nothing is
///         left behind.
/// Source: POSIX.1-2017, rename() and fsync().
[[nodiscard]] Result<Done, Problem> atomic_write(const std::filesystem::path& file,
                                                 std::string_view contents);

struct FileContents {
  std::filesystem::path file;
  std::string_view contents;
};

/// Several files, all or none: each is written and fsynced beside its place, and only then all are
/// renamed. Folders that are missing are made, and taken away again where nothing is written. A
/// kill leaves no part of a file, but may come between two renames.
///
/// @param stop  asked before each file while nothing has its name yet; true gives it up.
///
/// Errors: a Problem (kInput) as of atomic_write, or that it was stopped. Then the old contents of
///         all files stand and nothing is left behind. Only where the disk fails between two
///         renames are some files new: the sentence says how many.
[[nodiscard]] Result<Done, Problem> atomic_write_all(std::span<const FileContents> files,
                                                     const std::function<bool()>& stop = {});

/// Whether a name belongs to a file that a killed atomic_write left behind; such a file may be
/// deleted.
[[nodiscard]] bool is_interrupted_write(const std::filesystem::path& file);

/// All bytes of a file.
///
/// Errors: a Problem (kInput) naming the file and the remedy if it is missing, a folder, unreadable
/// or larger
///         than largest_bytes.
[[nodiscard]] Result<std::string, Problem> read_whole_file(const std::filesystem::path& file,
                                                           std::size_t largest_bytes = 256u << 20);

}  // namespace calib
