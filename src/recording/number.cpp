#include "recording/number.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>
#include <string>

namespace evenbeam::recording {
namespace {

std::string_view trimmed(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\f\v";
  const std::size_t first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

bool is_missing_word(std::string_view text) {
  if (text.size() > 4) return false;
  std::string lower(text);
  std::transform(lower.begin(), lower.end(), lower.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  constexpr std::array<std::string_view, 9> words{"", "nan", "-nan", "na", "n/a", "#n/a", "null", "-", "--"};
  return std::find(words.begin(), words.end(), lower) != words.end();
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

}  // namespace

std::optional<double> read_cell(std::string_view cell, char decimal_sign) {
  std::string_view text = trimmed(cell);
  if (text.size() >= 2 && text.front() == '"' && text.back() == '"') text = trimmed(text.substr(1, text.size() - 2));
  if (is_missing_word(text)) return std::numeric_limits<double>::quiet_NaN();
  const bool plus = text.front() == '+';
  if (plus) text.remove_prefix(1);
  // from_chars would take "inf" and "nan(...)": a number here begins with a digit or the decimal sign.
  const std::size_t sign = !plus && !text.empty() && text.front() == '-' ? 1 : 0;
  if (text.size() == sign || !(is_digit(text[sign]) || text[sign] == decimal_sign)) return std::nullopt;
  std::string with_point;
  if (decimal_sign != '.') {
    if (text.find('.') != std::string_view::npos) return std::nullopt;
    with_point.assign(text);
    std::replace(with_point.begin(), with_point.end(), decimal_sign, '.');
    text = with_point;
  }
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

}  // namespace evenbeam::recording
