// The fingerprint by which a photo is known for ever.
#pragma once

#include <cstddef>
#include <filesystem>
#include <span>
#include <string>

#include "calib/base/problem.h"
#include "calib/base/result.h"

namespace calib {

/// SHA-256 of a file's bytes, 64 lower-case hexadecimal digits.
///
/// Errors: a Problem (kInput) if the file cannot be read to its end.
/// Source: FIPS 180-4, as computed by OpenSSL's EVP.
[[nodiscard]] Result<std::string, Problem> sha256_of_file(const std::filesystem::path& file);

/// The same of bytes already in memory.
[[nodiscard]] std::string sha256_of_bytes(std::span<const unsigned char> bytes);

}  // namespace calib
