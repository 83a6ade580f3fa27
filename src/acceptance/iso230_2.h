#pragma once
// Positioning accuracy and repeatability of an axis by ISO 230-2:2014 (definitions from memory; clause 3).
// For target i and run j, deviation x_ij = actual - target; up = approached with rising position, down = falling:
//   mean      xu_i, xd_i; both: x_i = (xu_i + xd_i)/2;   reversal B_i = xu_i - xd_i, B = max|B_i|, Bm = mean(B_i)
//   spread    su_i, sd_i = sample standard deviation (n - 1)
//   repeat.   Ru_i = 4 su_i, Rd_i = 4 sd_i; R_i = max(2 su_i + 2 sd_i + |B_i|, Ru_i, Rd_i); Ru, Rd, R = max over i
//   systematic Eu = max xu - min xu, Ed alike; E = max(xu, xd) - min(xu, xd)
//   mean dev. M = max x_i - min x_i
//   accuracy  Au = max(xu + 2 su) - min(xu - 2 su), Ad alike; A = the same over both directions together
// Coverage k = 2 throughout. The standard's plan for axes up to 2 m: at least 5 targets a metre and 5 in all, 5 runs
// each way; less is computed and said. The same numbers serve skew in place of position.
#include <limits>
#include <string>
#include <vector>

namespace evenbeam::acceptance {

// One target with its deviations in run order; either direction may be absent everywhere (unidirectional).
struct TargetRuns {
  double target_m = 0;
  std::vector<double> up_m, down_m;
};

// One target's statistics; NaN where its direction was not measured.
struct TargetStatistics {
  double target_m = 0;
  double mean_up_m = 0, mean_down_m = 0, mean_m = 0;
  double deviation_up_m = 0, deviation_down_m = 0;  // s
  double reversal_m = 0;                            // B_i
  double repeatability_up_m = 0, repeatability_down_m = 0, repeatability_m = 0;
};

struct Positioning {
  std::vector<TargetStatistics> targets;  // by rising target
  // m; NaN where the direction it needs was not measured.
  double reversal_m = 0, mean_reversal_m = 0;                                    // B, Bm
  double repeatability_up_m = 0, repeatability_down_m = 0, repeatability_m = 0;  // R up, R down, R
  double systematic_up_m = 0, systematic_down_m = 0, systematic_m = 0;           // E up, E down, E
  double mean_deviation_m = 0;                                                   // M
  double accuracy_up_m = 0, accuracy_down_m = 0, accuracy_m = 0;                 // A up, A down, A
  std::vector<std::string> short_of_plan;  // where the measurement has less than the standard's plan, in words
};

// Throws InputError naming every target that cannot be used (fewer than two runs, a value that is not a number,
// directions mixed, a target twice).
Positioning positioning(std::vector<TargetRuns> runs);

// Symbol, name and value of each parameter, in the standard's order; for tables.
struct NamedParameter {
  std::string symbol, name;
  double value_m = std::numeric_limits<double>::quiet_NaN();
};
std::vector<NamedParameter> named_parameters(const Positioning& positioning);

}  // namespace evenbeam::acceptance
