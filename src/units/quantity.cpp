#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "units/spelling.h"
#include "units/unit.h"

namespace evenbeam::units {
namespace {

// number * factor, but divided where the factor is one over a whole number: 12.5 um is then the double nearest to
// 12.5e-6, as a person expects when comparing with what another file says.
double scaled(double number, double factor) {
  const double inverse = std::round(1 / factor);
  return inverse > 1 && 1 / inverse == factor ? number / inverse : number * factor;
}

}  // namespace

std::optional<Quantity> parse_quantity(std::string_view text) {
  const std::string plain = plain_spelling(text);
  const char* first = plain.data();
  const char* const last = first + plain.size();
  const auto starts_number = [last](const char* at) {
    return at != last && ((*at >= '0' && *at <= '9') || *at == '.');
  };
  if (first != last && *first == '+') {  // from_chars takes no plus
    ++first;
    if (!starts_number(first)) return std::nullopt;
  }
  if (!starts_number(first) && !(first != last && *first == '-' && starts_number(first + 1))) return std::nullopt;
  double number = 0;
  const auto [end, trouble] = std::from_chars(first, last, number);
  if (trouble != std::errc{} || !std::isfinite(number)) return std::nullopt;

  std::string unit_text = trimmed({end, static_cast<size_t>(last - end)});
  if (unit_text.empty()) return Quantity{number, Unit{}};
  if (unit_text.front() == '/') unit_text = fmt::format("1{}", unit_text);  // "100/s"
  const std::optional<Unit> unit = find_unit(unit_text);
  if (!unit) return std::nullopt;
  const double value = scaled(number, unit->factor) + unit->offset;
  if (!std::isfinite(value)) return std::nullopt;
  return Quantity{value, *unit};
}

}  // namespace evenbeam::units
