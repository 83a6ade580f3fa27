#pragma once
// A row of the page with which ./run bench ends: what was measured as a ratio to a reference of the same run, and the
// goal it is held to. Rows are kept by their first word; fields are parted by bars.
#include <fmt/format.h>

#include <string>
#include <string_view>

namespace evenbeam::bench {

enum class Goal { at_most, at_least };

inline void tell_goal(std::string_view row, std::string_view what, double measured, Goal kind, double goal) {
  const bool met = kind == Goal::at_most ? measured <= goal : measured >= goal;
  fmt::print("goal|{}|{}|{:.3g}|{} {:g}|{}\n", row, what, measured, kind == Goal::at_most ? "at most" : "at least",
             goal, met ? "met" : "missed");
}

// A reference that could not be asked here.
inline void tell_unmeasured(std::string_view row, std::string_view what, std::string_view why) {
  fmt::print("goal|{}|{}|-|{}|unknown\n", row, what, why);
}

}  // namespace evenbeam::bench
