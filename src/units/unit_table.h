#pragma once
// The unit symbols this program knows, one row a symbol, and nothing derived: products and powers are unit.cpp's
// work. Factors are kept as numerator / denominator so that decimal prefixes stay exact (1 N/um is exactly 1e6 N/m).
// Sources: BIPM, The International System of Units (SI brochure), 9th edition, tables 2 to 8; NIST SP 811, appendix
// B.
#include <span>
#include <string_view>

#include "units/unit.h"

namespace evenbeam::units {

struct Symbol {
  std::string_view text;
  Dimension dimension;
  double numerator = 1, denominator = 1;  // value_si = value * numerator / denominator
  double offset = 0;                      // degC only
  bool compound = false;                  // written without a dot ("Nm"): takes no power, (N m)^2 or N m^2 is unclear
};

// Spelling is exact, case included: "mm" and "Mm", "Nm" and "nm" are different things, and a guess would be
// dangerous.
std::span<const Symbol> symbols();

// What a dimension is called and which symbols a person may write for it: "a length", "m, mm, um, in".
struct DimensionName {
  Dimension dimension;
  std::string_view name, examples;
};
std::span<const DimensionName> dimension_names();

}  // namespace evenbeam::units
