#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "base/check.h"
#include "units/unit.h"

namespace evenbeam::units {
namespace {

bool is_plain(std::string_view symbol) { return symbol.empty() || symbol == "1"; }

Unit unit_of(std::string_view symbol) {
  if (is_plain(symbol)) return Unit{};
  const std::optional<Unit> unit = find_unit(symbol);
  base::check(unit.has_value(), fmt::format("'{}' is a unit of the table", symbol));
  return *unit;
}

// Decimals so that `digits` digits show, the zero before the point counted as one: 1234, 123.4, 12.34, 1.234, 0.123.
std::string print_number(double number, int digits) {
  if (number == 0) return "0";
  const double size = std::abs(number);
  if (size >= 1e7 || size < 1e-4) return fmt::format("{:.{}e}", number, std::max(digits - 1, 0));
  const int exponent = static_cast<int>(std::floor(std::log10(size)));
  const int decimals = exponent >= 0 ? digits - 1 - exponent : std::max(digits - 1, 1) - 1 - exponent;
  return fmt::format("{:.{}f}", number, std::clamp(decimals, 0, 12));
}

}  // namespace

std::string print_quantity(double value_si, std::string_view si_unit, std::string_view shown_unit, int digits) {
  if (std::isnan(value_si)) return "unknown";
  const Unit from = unit_of(si_unit);
  const Unit to = unit_of(shown_unit);
  base::check(from.dimension == to.dimension, fmt::format("'{}' can be shown in '{}'", si_unit, shown_unit));
  const double number = (value_si * from.factor + from.offset - to.offset) / to.factor;
  const std::string text =
      std::isinf(number) ? std::string(number > 0 ? "infinite" : "-infinite") : print_number(number, digits);
  return is_plain(shown_unit) ? text : fmt::format("{} {}", text, shown_unit);
}

std::string shown_unit(std::string_view si_unit, std::string_view length_unit, std::string_view force_unit) {
  if (is_plain(si_unit)) return "";
  if (si_unit == "m") return std::string(length_unit);
  if (si_unit == "N") return std::string(force_unit);
  for (const std::string_view per_time : {"m/s", "m/s^2", "m/s^3"})
    if (si_unit == per_time) return fmt::format("{}{}", length_unit, per_time.substr(1));
  if (si_unit == "m/N") return fmt::format("{}/{}", length_unit, force_unit);
  if (si_unit == "N/m") return fmt::format("{}/{}", force_unit, length_unit);
  if (si_unit == "rad") return "mrad";  // yaw angles and squareness are far below a radian
  return std::string(si_unit);
}

}  // namespace evenbeam::units
