#include "base/hash.h"

#include <openssl/evp.h>

#include <array>

#include "base/check.h"

namespace evenbeam::base {

std::string sha256_hex(std::string_view bytes) {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  const int done = EVP_Digest(bytes.data(), bytes.size(), digest.data(), &length, EVP_sha256(), nullptr);
  check(done == 1 && length == 32, "SHA-256 is available and gives 32 bytes", {double(done), double(length)});
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (unsigned int i = 0; i < length; ++i) {
    text += kDigits[digest[i] >> 4U];
    text += kDigits[digest[i] & 15U];
  }
  return text;
}

}  // namespace evenbeam::base
