#pragma once
// SHA-256 (FIPS 180-4) by libcrypto: names inputs and chains journal entries.
#include <string>
#include <string_view>

namespace evenbeam::base {

std::string sha256_hex(std::string_view bytes);  // 64 lower-case hexadecimal digits

}  // namespace evenbeam::base
