#pragma once
// The units of one form: what one unit of length, time and force is in SI, how it is written, and what is missing.
#include <optional>
#include <string>
#include <vector>

#include "exporting/settings_sheet.h"

namespace evenbeam::exporting {

struct Scale {
  std::string form, title;
  std::optional<double> length_m = 1, time_s = 1, force_n = 1;
  std::string length = "m", time = "s", force = "N";
  double place_m = 1;  // of the carriage's place, which no drive counts: the user's length in all forms but SI
  std::string place = "m";
  bool keeps_kg = false;  // masses in kg
  // What B's position is to be multiplied by before the law, and B's force after it. 1 where the sides are alike.
  std::optional<double> position_b = 1, output_b = 1;
  std::vector<std::string> missing;  // keys of machine.toml that would settle what is unknown
};

std::vector<Scale> scales(const machine::Settings& settings, const machine::Machine& machine);

// A setting with the powers of length, time and force in it.
struct Carried {
  std::string key, symbol, name, si_unit;
  double value = 0;
  int length = 0, time = 0, force = 0;
  bool place = false;
};
std::vector<Carried> carried(const machine::Settings& settings);

SheetRow in_scale(const Carried& setting, const Scale& scale);

}  // namespace evenbeam::exporting
