#include "recording/number.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <bit>
#include <charconv>
#include <cmath>
#include <random>
#include <string>

namespace evenbeam::recording {
namespace {

std::uint64_t bits(double value) { return std::bit_cast<std::uint64_t>(value); }

// As read_table does it: the fast way where it holds up to the end of the text, else the careful one.
std::optional<double> read_as_table(const std::string& text, char decimal_sign = '.') {
  const std::string line = text + "\n";
  double value = 0;
  const char* const end = read_plain_decimal(line.data(), decimal_sign, value);
  if (end && *end == '\n') return value;
  return read_cell(text, decimal_sign);
}

// Plain and exponent forms, short and long, as recorders and as nobody writes them.
std::string random_number(std::mt19937_64& random) {
  const auto upto = [&](int n) { return static_cast<int>(random() % static_cast<unsigned>(n)); };
  std::string text = upto(2) ? "-" : "";
  const int whole = upto(10) == 0 ? upto(25) : upto(7), decimals = upto(8) == 0 ? upto(25) : upto(8);
  for (int i = 0; i < whole; ++i) text += static_cast<char>('0' + upto(10));
  if (whole == 0 || decimals > 0) text += whole == 0 && decimals == 0 ? "0" : ".";
  for (int i = 0; i < decimals; ++i) text += static_cast<char>('0' + upto(10));
  if (upto(6) == 0)
    text += fmt::format("{}{}{}", upto(2) ? "e" : "E", upto(3) == 0 ? "+" : upto(2) ? "-" : "", upto(300));
  return text;
}

}  // namespace

TEST_CASE("numbers are those of from_chars, bit for bit") {
  const std::uint64_t seed = 20240611;
  std::mt19937_64 random(seed);
  int wrong = 0;
  for (int i = 0; i < 300000 && wrong < 5; ++i) {
    const std::string text = random_number(random);
    double wanted = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), wanted);
    const bool right = error == std::errc{} && end == text.data() + text.size();
    const auto seen = read_as_table(text);
    const bool same = right ? seen && bits(*seen) == bits(wanted) : !seen;
    if (same) continue;
    ++wrong;
    FAIL_CHECK(fmt::format("seed {} case {}: \"{}\"", seed, i, text));
  }
}

TEST_CASE("every double written shortest reads back") {
  std::mt19937_64 random(7);
  for (int i = 0; i < 50000; ++i) {
    const double value = std::bit_cast<double>(random());
    if (!std::isfinite(value)) continue;
    char buffer[40];
    const auto written = std::to_chars(buffer, buffer + sizeof buffer, value);
    const std::string text(buffer, written.ptr);
    const auto seen = read_as_table(text);
    REQUIRE_MESSAGE(seen, text);
    REQUIRE_MESSAGE(bits(*seen) == bits(value), text);
  }
}

TEST_CASE("cells as people write them") {
  CHECK(read_cell(" 1.5 ", '.') == 1.5);
  CHECK(read_cell("+1.5", '.') == 1.5);
  CHECK(read_cell("\"1,5\"", ',') == 1.5);
  CHECK(bits(*read_as_table("-0.000")) == bits(-0.0));
  CHECK(read_as_table("-0,25", ',') == -0.25);
  for (const char* missing : {"", "  ", "nan", "NaN", "N/A", "-", "\"\"", "null"})
    CHECK(std::isnan(read_cell(missing, '.').value()));
  for (const char* wrong : {"1.2.3", "1,5", "inf", "-inf", "nan(1)", "1e400", "0x10", "12:00:01", "- 1", "1 2", "++1",
                            "+-1", ".", "e5", "1e"})
    CHECK_MESSAGE(!read_as_table(wrong), std::string(wrong));
  CHECK(!read_cell("1.234,5", ','));
}

}  // namespace evenbeam::recording
