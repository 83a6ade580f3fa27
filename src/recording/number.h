#pragma once
// Decimal text to double, bit for bit what std::from_chars gives.
// Fast way: at most 19 digits gathered in an integer m; where m <= 2^53 and there are at most 22 decimals, m and
// 10^decimals are both exact doubles, so the single division m / 10^decimals is correctly rounded by IEEE 754
// (Clinger 1990, "How to read floating point numbers accurately"). Everything else goes to std::from_chars.
#include <array>
#include <cstdint>
#include <optional>
#include <string_view>

namespace evenbeam::recording {

inline constexpr std::array<double, 23> kPowersOfTen{1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                                     1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                                     1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

// Reads a plain decimal at `p` (sign, digits, decimal sign, digits). The text must be followed somewhere by a byte
// that is neither digit nor decimal sign (a line end). Returns the place after it, or nullptr where the fast way does
// not hold; then read_cell decides.
inline const char* read_plain_decimal(const char* p, char decimal_sign, double& value) {
  const bool negative = *p == '-';
  p += negative;
  std::uint64_t mantissa = 0;
  const char* const digits = p;
  for (unsigned digit; (digit = static_cast<unsigned char>(*p) - unsigned{'0'}) < 10; ++p)
    mantissa = mantissa * 10 + digit;
  long count = p - digits;
  long decimals = 0;
  if (*p == decimal_sign) {
    const char* const fraction = ++p;
    for (unsigned digit; (digit = static_cast<unsigned char>(*p) - unsigned{'0'}) < 10; ++p)
      mantissa = mantissa * 10 + digit;
    decimals = p - fraction;
    count += decimals;
  }
  constexpr std::uint64_t exact_limit = std::uint64_t{1} << 53;
  if (count == 0 || count > 19 || mantissa > exact_limit) return nullptr;
  const double magnitude = static_cast<double>(mantissa) / kPowersOfTen[static_cast<std::size_t>(decimals)];
  value = negative ? -magnitude : magnitude;
  return p;
}

// Any cell: blanks and double quotes around it are dropped; "" and nan, na, n/a, #n/a, null, -, -- (any case) are
// missing and give NaN; a leading + and exponents are read. nullopt where it is no finite number.
std::optional<double> read_cell(std::string_view cell, char decimal_sign);

}  // namespace evenbeam::recording
