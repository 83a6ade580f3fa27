#pragma once
// What warms and of what it is made: table [thermal] of machine.toml. SI; nullopt is unknown.
#include <optional>
#include <string>

namespace evenbeam::machine {

struct Expansion {
  double per_k = 0;
  std::string name;    // "aluminium", or "as stated"
  std::string source;  // where the coefficient comes from
};

struct Thermal {
  std::optional<Expansion> bridge, base, scale;  // base: what the rails are bolted to
  std::optional<double> change_k;                // largest change of temperature from setting up to work, > 0
  std::optional<double> uneven_k;                // largest difference between the two sides, or bridge and base; >= 0
  std::optional<double> mark_from_fixed_m;       // distance of the marks from where the scales are fixed, >= 0
  bool one_side_floats = false;                  // the carriages of one rail give way across
};

}  // namespace evenbeam::machine
