#pragma once
// From SI to the person's unit: one place for drawings, tables and sheets.
#include <optional>
#include <string>
#include <string_view>

namespace evenbeam::report {

struct PersonUnits {
  std::string length = "mm", force = "N";
};

struct ShownUnit {
  double factor = 1;   // shown = SI * factor
  std::string symbol;  // typographic: "mm", "N·m/rad"; empty for plain numbers
};

// An SI symbol that the unit table does not know is shown as it is, with factor 1.
ShownUnit shown_unit(std::string_view si_unit, const PersonUnits& person);

// For an axis of angles, by the largest magnitude it shows: degrees beyond 0.2 rad.
ShownUnit shown_angle(double largest_rad, const PersonUnits& person);
// "N*m^2" -> "N·m²", "um" -> "µm", "1" -> "".
std::string typographic(std::string_view symbol);

// With an interval the digits follow its half-width: 0.0460 (0.0440 to 0.0480), 412 (405 to 419).
// Without one, four digits, padding zeros left out: a zero would claim what nobody measured.
std::string shown_number(double value_si, const ShownUnit& unit, std::optional<double> lower = {},
                         std::optional<double> upper = {});
std::string with_unit(std::string number, const ShownUnit& unit);

}  // namespace evenbeam::report
