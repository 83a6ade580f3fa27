#include "base/hash.h"

#include <openssl/evp.h>

#include <array>

#include "base/check.h"

namespace evenbeam::base {

std::string sha256_hex(std::string_view bytes) {
  Sha256 whole;
  whole.add(bytes);
  return whole.hex();
}

Sha256::Sha256() : state_(EVP_MD_CTX_new(), EVP_MD_CTX_free) {
  check(state_ != nullptr && EVP_DigestInit_ex(state_.get(), EVP_sha256(), nullptr) == 1, "SHA-256 is available", {});
}

void Sha256::add(std::string_view bytes) {
  check(EVP_DigestUpdate(state_.get(), bytes.data(), bytes.size()) == 1, "SHA-256 takes bytes until its end", {});
}

std::string Sha256::hex() {
  std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
  unsigned int length = 0;
  const int done = EVP_DigestFinal_ex(state_.get(), digest.data(), &length);
  check(done == 1 && length == 32, "SHA-256 gives 32 bytes", {double(done), double(length)});
  constexpr std::string_view kDigits = "0123456789abcdef";
  std::string text;
  for (unsigned int i = 0; i < length; ++i) {
    text += kDigits[digest[i] >> 4U];
    text += kDigits[digest[i] & 15U];
  }
  return text;
}

}  // namespace evenbeam::base
