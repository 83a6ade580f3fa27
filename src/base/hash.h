#pragma once
// SHA-256 (FIPS 180-4) by libcrypto: names inputs and chains journal entries.
#include <memory>
#include <string>
#include <string_view>

struct evp_md_ctx_st;  // of libcrypto

namespace evenbeam::base {

std::string sha256_hex(std::string_view bytes);  // 64 lower-case hexadecimal digits

// The same of bytes that come piece by piece.
class Sha256 {
 public:
  Sha256();
  void add(std::string_view bytes);
  std::string hex();  // once, at the end

 private:
  std::shared_ptr<evp_md_ctx_st> state_;
};

}  // namespace evenbeam::base
