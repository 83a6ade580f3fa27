#pragma once
// Odds of src/diagnosis/odds.h: trained on the pack's machines, and held against others.
//   training: largest sum over machines of ln(sum of p over the causes that are right, or p_none), less ridge/2 times
//   the squares of the weights; by steps along the gradient from zero, always the same number of them
//   temperature: five folds, each judged with weights of the other four; T makes what is said of all of them
//   likeliest (golden section over ln T); the weights that are written are of all machines
#include <string>
#include <vector>

#include "diagnosis/odds.h"

namespace evenbeam::checks {

// What station `causes` said of one machine.
struct Seen {
  std::vector<diagnosis::Sign> signs;
  std::vector<bool> right;  // of each cause; no one: none of these
};

// Text of src/diagnosis/odds_table.cpp. Machines without a finding that names a cause tell nothing and are left out.
std::string trained_table(const std::vector<Seen>& machines, const std::string& made_by);

// One probability said, and whether it was so.
struct Said {
  double odds = 0;
  bool so = false;
};
// Markdown: how often it was so by tenths of what was said, with the 95 % interval of that, and the mean squared miss
// (Brier).
std::string reliability(const std::vector<Said>& said);

// 95 % interval of a share of `so` in `n` [Clopper and Pearson 1934]: upper and lower bound.
struct Bounds {
  double low = 0, high = 1;
};
Bounds share_bounds(double so, double n);

}  // namespace evenbeam::checks
