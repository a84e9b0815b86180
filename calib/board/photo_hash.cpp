#include "calib/board/photo_hash.h"

#include <array>
#include <fstream>
#include <memory>
#include <stdexcept>
#include <vector>

#include <openssl/evp.h>

namespace calib {
namespace {

class Sha256 {
 public:
  Sha256() : context_(EVP_MD_CTX_new(), &EVP_MD_CTX_free) {
    if (!context_ || EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr) != 1) {
      throw std::runtime_error("OpenSSL offers no SHA-256");
    }
  }

  void add(const void* bytes, std::size_t count) { EVP_DigestUpdate(context_.get(), bytes, count); }

  [[nodiscard]] std::string hexadecimal() {
    std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
    unsigned int length = 0;
    EVP_DigestFinal_ex(context_.get(), digest.data(), &length);
    constexpr char kDigits[] = "0123456789abcdef";
    std::string text;
    for (unsigned int i = 0; i < length; ++i) {
      text += kDigits[digest[i] >> 4];
      text += kDigits[digest[i] & 15];
    }
    return text;
  }

 private:
  std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context_;
};

}  // namespace

Result<std::string, Problem> sha256_of_file(const std::filesystem::path& file) {
  const auto unreadable = [&file] {
    return Unexpected(Problem{file.string() + ": cannot be read: check the name and the rights"});
  };
  std::error_code failure;
  if (!std::filesystem::is_regular_file(file, failure)) {
    return unreadable();
  }
  std::ifstream stream(file, std::ios::binary);
  Sha256 hash;
  std::vector<char> block(std::size_t{1} << 20);
  while (stream) {
    stream.read(block.data(), static_cast<std::streamsize>(block.size()));
    hash.add(block.data(), static_cast<std::size_t>(stream.gcount()));
  }
  if (!stream.eof()) {
    return unreadable();
  }
  return hash.hexadecimal();
}

std::string sha256_of_bytes(std::span<const unsigned char> bytes) {
  Sha256 hash;
  hash.add(bytes.data(), bytes.size());
  return hash.hexadecimal();
}

}  // namespace calib
