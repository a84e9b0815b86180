// A file that grows at its end: what was appended is on the disk, or nothing of it is in the file.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string_view>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace calib {

/// An open file that only this program appends to.
class AppendFile {
 public:
  /// Errors: a Problem (kInput) naming the file and the remedy if it is missing, no regular file or
  ///         may not be written.
  [[nodiscard]] static Result<AppendFile, Problem> open(const std::filesystem::path& file);

  AppendFile(AppendFile&& other) noexcept;
  AppendFile& operator=(AppendFile&& other) noexcept;
  ~AppendFile();

  /// Writes the text at the end and fsyncs the file before it returns.
  ///
  /// Errors: a Problem (kInput) naming the file and the remedy if the disk is full or fails; the
  ///         file is then cut back to what it held. Where even that fails, so does the next append,
  ///         until it does not: a part of a text never stands before another.
  /// Source: POSIX.1-2017, fsync().
  [[nodiscard]] Result<Done, Problem> append(std::string_view text);

  /// Cuts the file back to a size that it had.
  [[nodiscard]] Result<Done, Problem> shorten(std::uintmax_t size);

  [[nodiscard]] std::uintmax_t size() const { return size_; }
  /// Whether the file still bears its name and holds what was put into it.
  [[nodiscard]] bool is_in_place() const;

 private:
  AppendFile(std::filesystem::path file, int descriptor, std::uintmax_t size)
      : file_(std::move(file)), descriptor_(descriptor), size_(size) {}
  /// 0, or the errno that kept the file longer than size_.
  [[nodiscard]] int cut_back();

  std::filesystem::path file_;
  int descriptor_ = -1;
  std::uintmax_t size_ = 0;   ///< of what was appended in full
  bool has_remains_ = false;  ///< bytes after size_ may stand there
};

/// Removes a file for good: a power cut does not bring it back. None there: done.
///
/// Errors: a Problem (kInput) naming the file and the remedy.
[[nodiscard]] Result<Done, Problem> remove_file(const std::filesystem::path& file);

}  // namespace calib
