#include "report/shown.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "report/text.h"
#include "units/unit.h"

namespace evenbeam::report {
std::string typographic(std::string_view symbol) {
  if (symbol == "1") return "";
  std::string out;
  for (size_t i = 0; i < symbol.size(); ++i) {
    if (symbol[i] == '*')
      out += "·";
    else if (symbol[i] == '^' && i + 1 < symbol.size() && symbol[i + 1] >= '0' && symbol[i + 1] <= '9')
      out += superscript(symbol[++i] - '0');
    else
      out += symbol[i];
  }
  if (out == "um") return "µm";
  return out;
}

ShownUnit shown_unit(std::string_view si_unit, const PersonUnits& person) {
  const std::string symbol = units::shown_unit(si_unit, person.length, person.force);
  const auto from = units::find_unit(si_unit), to = units::find_unit(symbol);
  if (!from || !to || !(from->dimension == to->dimension) || to->offset != 0) return {1, typographic(si_unit)};
  return {from->factor / to->factor, typographic(symbol)};
}

ShownUnit shown_angle(double largest_rad, const PersonUnits& person) {
  // Yaw and squareness are fractions of a milliradian; phases and turns are read in degrees.
  if (largest_rad > 0.2) return {180 / std::numbers::pi, "°"};
  return shown_unit("rad", person);
}

std::string shown_number(double value_si, const ShownUnit& unit, std::optional<double> lower,
                         std::optional<double> upper) {
  const double value = value_si * unit.factor;
  const double half = lower && upper ? std::abs(*upper - *lower) / 2 * unit.factor : 0;
  if (value == 0 || !(half > 0) || !std::isfinite(half) || !std::isfinite(value)) return trimmed(value, 4);
  // Two digits of the half-width where it begins with 1, 2 or 3, else one: rounding then stays below a seventh of it.
  const double place_of_half = std::floor(std::log10(half));
  const double kept = half < 3.55 * std::pow(10.0, place_of_half) ? 2 : 1;
  // Of the number as it will be rounded: 9.99 to one decimal is 10.0, not 10.
  const double grain = std::pow(10.0, place_of_half - kept + 1);
  const double size = std::max(std::abs(std::round(value / grain) * grain), grain);
  const double places = std::floor(std::log10(size) + 1e-12) - place_of_half;
  return significant(std::round(value / grain) * grain, static_cast<int>(std::clamp(places + kept, 1.0, 7.0)));
}

std::string with_unit(std::string number, const ShownUnit& unit) {
  return unit.symbol.empty() ? number : number + " " + unit.symbol;
}

}  // namespace evenbeam::report
