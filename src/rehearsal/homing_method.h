#pragma once
// What the numbers of homing methods in the open drive standard mean (CiA 402; from memory, rows in
// checks/rehearsal/homing_method_check.cpp): on which switch a search turns, and whether the index decides at the
// end.
//   1-14 with index, 17-30 the same without; 33, 34 the next index; 35 (old) and 37 the place where the axis stands
// Assumes a drive that keeps the standard; numbers below 0 are the maker's own, others are reserved.
#include <optional>
#include <string>

namespace evenbeam::rehearsal {

enum class HomingSwitch { none, negative_limit, positive_limit, home_edge, home_edge_with_limits };

struct HomingMethod {
  HomingSwitch on = HomingSwitch::none;
  bool index = false;            // the mark after the switch (or the next one) is the reference
  bool starts_positive = false;  // way in which the search begins; without meaning where nothing moves
  bool moves = true;             // false: the present place becomes the reference
  bool old = false;              // 35, replaced by 37
};
// nullopt: reserved (15, 16, 31, 32, 36 and all above 37), none (0), or the maker's own (negative).
std::optional<HomingMethod> homing_method(int code);
// "to the home switch's edge, limits turn it round, then the index"
std::string to_text(const HomingMethod& method);

// Two drives that each home by themselves turn the bridge: the methods that move are for a pair only where both sides
// are held together by the controller that commands the search.
bool fit_for_each_side_alone(const HomingMethod& method);

}  // namespace evenbeam::rehearsal
