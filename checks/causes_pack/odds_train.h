#pragma once
// Odds of src/diagnosis/odds.h: trained on the pack's machines, and held against others.
//   training: largest sum over machines of ln(sum of p over what is right, or p_none), less ridge/2 times the squares
//   of the weights of the kinds; by steps along the gradient from zero, always the same number of them
#include <string>
#include <vector>

#include "diagnosis/odds.h"

namespace evenbeam::checks {

// What station `causes` said of one machine.
struct Seen {
  std::vector<diagnosis::Sign> signs;
  std::vector<std::string> kinds;
  std::vector<bool> right;  // no one: none of these
};

// Text of src/diagnosis/odds_table.cpp. Machines without a finding tell nothing and are left out.
std::string trained_table(const std::vector<Seen>& machines, const std::string& made_by);

// One probability said, and whether it was so.
struct Said {
  double odds = 0;
  bool so = false;
};
// Markdown: how often it was so by tenths of what was said, and the mean squared miss (Brier).
std::string reliability(const std::vector<Said>& said);

}  // namespace evenbeam::checks
