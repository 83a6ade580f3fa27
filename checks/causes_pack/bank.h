#pragma once
// A bank of defects for scoring station `causes`: each one a way to break the virtual gantry (defects.toml,
// docs/formats.md), from barely there to gross. The numbers scale with the machine, so that one size means the same
// trouble on a small and on a large one.
#include <span>
#include <string>
#include <vector>

namespace evenbeam::checks {

// What sizes are made of.
struct Scale {
  double coulomb_n = 0;       // mean of both sides
  double peak_force_n = 0;    // of one side
  double spring_n_per_m = 0;  // K/L^2
  double count_m = 0;
  double way_m = 0;  // of the test move
  double speed_m_per_s = 0;
};

struct Defect {
  int row = 0;  // of the list of difficulties in docs/causes.md; 0: not of that list; -1: no rule knows it
  const char* name = "";
  std::string (*toml)(const Scale& scale, double size) = nullptr;  // size 0 (barely there) to 1 (gross)
  std::vector<const char*> answers;  // beginnings of finding ids of `causes` that are right, the cause before its
                                     // consequences; empty: no rule knows it
  bool safety = false;    // matters whatever it does in these captures: outputs that move what they should not
  const char* asks = "";  // a finding of `causes` that asks for the capture which these captures lack; right too
};

std::span<const Defect> bank();

}  // namespace evenbeam::checks
