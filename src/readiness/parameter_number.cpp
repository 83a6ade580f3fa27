#include "readiness/parameter_number.h"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <cmath>

namespace evenbeam::readiness {
namespace {

bool digits_only(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) { return c >= '0' && c <= '9'; });
}

// Sign and exponent taken off: what stands between them.
std::string_view mantissa_of(std::string_view text) {
  if (!text.empty() && (text.front() == '+' || text.front() == '-')) text.remove_prefix(1);
  return text.substr(0, text.find_first_of("eE"));
}

// Whether `mark` can part thousands: 1 to 3 digits, then groups of three.
bool parts_thousands(std::string_view mantissa, char mark) {
  std::size_t at = mantissa.find(mark);
  if (at == std::string_view::npos || at == 0 || at > 3 || !digits_only(mantissa.substr(0, at))) return false;
  while (at != std::string_view::npos) {
    const std::size_t next = mantissa.find(mark, at + 1);
    const std::string_view group = mantissa.substr(at + 1, next == std::string_view::npos ? next : next - at - 1);
    if (group.size() != 3 || !digits_only(group)) return false;
    at = next;
  }
  return true;
}

std::optional<double> whole_in_base(std::string_view digits, int number_base) {
  unsigned long long value = 0;
  const auto [end, error] = std::from_chars(digits.data(), digits.data() + digits.size(), value, number_base);
  if (error != std::errc{} || end != digits.data() + digits.size()) return std::nullopt;
  return static_cast<double>(value);
}

std::optional<double> plain(std::string text) {
  if (text.starts_with('+')) text.erase(0, 1);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size() || !std::isfinite(value)) return std::nullopt;
  return value;
}

std::string without(std::string text, char dropped) {
  text.erase(std::remove(text.begin(), text.end(), dropped), text.end());
  return text;
}

}  // namespace

std::string lowered(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == ' ' && (out.empty() || out.back() == ' ')) continue;
    out += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  if (!out.empty() && out.back() == ' ') out.pop_back();
  return out;
}

DecimalSign decimal_sign_of(const std::vector<std::string>& values) {
  int points = 0, commas = 0;
  for (const std::string& value : values) {
    const std::string_view m = mantissa_of(value);
    if (m.find_first_not_of("0123456789.,") != std::string_view::npos) continue;
    const bool point = m.find('.') != std::string_view::npos, comma = m.find(',') != std::string_view::npos;
    if (point && comma)
      ++(m.rfind('.') > m.rfind(',') ? points : commas);
    else if (point && !parts_thousands(m, '.'))
      ++points;
    else if (comma && !parts_thousands(m, ','))
      ++commas;
  }
  if (points > 0 && commas == 0) return DecimalSign::point;
  if (commas > 0 && points == 0) return DecimalSign::comma;
  return DecimalSign::unknown;
}

ReadNumber read_number(const std::string& text, DecimalSign sign) {
  const std::string low = lowered(text);
  if (low.starts_with("0x")) return {whole_in_base(std::string_view(low).substr(2), 16), false, ""};
  if (low.starts_with("16#")) return {whole_in_base(std::string_view(low).substr(3), 16), false, ""};
  if (low.starts_with("2#")) return {whole_in_base(std::string_view(low).substr(2), 2), false, ""};
  if (low.size() > 1 && low.back() == 'h' && std::isdigit(static_cast<unsigned char>(low[0])))
    return {whole_in_base(std::string_view(low).substr(0, low.size() - 1), 16), false, ""};
  std::string number = without(low, ' ');
  const std::string_view m = mantissa_of(number);
  const bool point = m.find('.') != std::string_view::npos, comma = m.find(',') != std::string_view::npos;
  const bool comma_may_part = parts_thousands(m, ','), point_may_part = parts_thousands(m, '.');
  if (point && comma) {
    const bool decimal_comma = m.rfind(',') > m.rfind('.');
    number = without(number, decimal_comma ? '.' : ',');
    if (decimal_comma) std::replace(number.begin(), number.end(), ',', '.');
  } else if (comma) {
    if (comma_may_part && sign == DecimalSign::unknown && m.find(',') == m.rfind(','))
      return {std::nullopt, true, "could be a decimal comma or thousands"};
    if (comma_may_part && sign != DecimalSign::comma)
      number = without(number, ',');
    else
      std::replace(number.begin(), number.end(), ',', '.');
  } else if (point && point_may_part && (sign == DecimalSign::comma || m.find('.') != m.rfind('.'))) {
    number = without(number, '.');
  }
  return {plain(number), false, ""};
}

bool looks_like_number(const std::string& text) {
  return !text.empty() &&
         (read_number(text, DecimalSign::point).value || read_number(text, DecimalSign::comma).value);
}

double written_doubt(const std::string& text) {
  const std::string_view m = mantissa_of(text);
  const std::size_t sign = m.find_last_of(".,");
  if (sign == std::string_view::npos || sign + 1 == m.size()) return 0;
  const std::size_t exponent_at = text.find_first_of("eE");
  int exponent = 0;
  if (exponent_at != std::string::npos) {
    std::string_view digits = std::string_view(text).substr(exponent_at + 1);
    if (digits.starts_with('+')) digits.remove_prefix(1);
    std::from_chars(digits.data(), digits.data() + digits.size(), exponent);
  }
  return 0.5 * std::pow(10.0, exponent - static_cast<int>(m.size() - sign - 1));
}

}  // namespace evenbeam::readiness
