#pragma once
// Units at the edge: text in, SI out, and back. Inside the program numbers are SI and plain.
// Own table, checked against the SI brochure and udunits2 (checks/units).
#include <optional>
#include <string>
#include <string_view>

namespace evenbeam::units {

// Exponents of the base dimensions that occur here. Angle is kept apart so that N*m and N*m/rad differ.
struct Dimension {
  int length = 0, mass = 0, time = 0, current = 0, angle = 0, temperature = 0;
  bool operator==(const Dimension&) const = default;
};

// value_si = value * factor (no offset units but degC, which is refused in products).
struct Unit {
  std::string symbol;
  Dimension dimension;
  double factor = 1;
  double offset = 0;  // degC only: value_si = value * factor + offset
};

// "mm", "um", "N/um", "kg*m^2", "kg m2", "deg", "1/min", "%", "A", "count" is not a unit here (needs a scale).
// nullopt where the text is no unit known to the table.
std::optional<Unit> find_unit(std::string_view text);

// "2.2 m" -> 2.2 and Unit m. A number without unit gives symbol "" and dimension none. nullopt where not a quantity.
struct Quantity {
  double value_si = 0;
  Unit unit;
};
std::optional<Quantity> parse_quantity(std::string_view text);

// The words for a dimension, for messages: "a length (m, mm, um, in)".
std::string describe(const Dimension& dimension);

// A number in a person's unit with a sensible count of digits: print(0.00012, "m", "mm") -> "0.120 mm".
// `digits` = significant digits of the number itself.
std::string print_quantity(double value_si, std::string_view si_unit, std::string_view shown_unit, int digits = 4);

// The shown unit for an SI unit symbol, given the user's length and force unit: ("m", "mm", "N") -> "mm".
std::string shown_unit(std::string_view si_unit, std::string_view length_unit, std::string_view force_unit);

}  // namespace evenbeam::units
