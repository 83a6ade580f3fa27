#pragma once
// Difficulties of the list that the virtual gantry cannot have in its captures alone: machine.toml states what makes
// them, and the station that asks it must say so and be heard by `causes`.
#include <span>

namespace evenbeam::checks {

struct Sheet {
  int row = 0;
  const char* name = "";
  const char* papers = "";  // added to machine.toml
  const char* ready = "";   // ready.toml; empty: none
  const char* broken = "";  // defects.toml without its format; empty: a healthy machine
  const char* station = "";
  const char* finding = "";  // beginning of its id there; `causes` itself: a criterion of its own
  const char* heard = "";    // beginning of its id in `causes`
  const char* square = "";   // squareness.toml; empty: none
};
std::span<const Sheet> sheets();

}  // namespace evenbeam::checks
