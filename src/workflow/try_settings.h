#pragma once
// Settings tried on the virtual gantry before they are entered: the proposed ones with gains, share, carriage place
// and payload changed, for one of the moves known. Same forecast as station loops, without its band where speed
// matters.
#include <optional>
#include <string>
#include <vector>

#include "workflow/evaluation.h"

namespace evenbeam::workflow {

struct Trial {
  std::string move;  // a recording with references, or a [[move]] of machine.toml; empty = the first there is
  double mean_gain = 1, skew_gain = 1;             // factors on both gains of the loop, 0.1 to 5
  std::optional<double> share;                     // of A; empty = that of the carriage place
  std::optional<double> carriage_y_m, payload_kg;  // empty = as recorded
};

struct TriedSettings {
  std::string move;
  double share = 0.5, carriage_y_m = 0, payload_kg = 0;
  bool stable = false;
  double peak_sensitivity = 0;  // infinite where unstable
  double peak_skew_m = 0, peak_force_part = 0, peak_guide_moment_n_m = 0;
  std::optional<double> settle_s;
  std::optional<double> allowable_skew_m, allowable_yaw_moment_n_m;  // station limits
  std::vector<double> time_s, skew_error_m;                          // empty for a planned move
};

std::vector<std::string> moves_to_try(const Evaluation& evaluation);
// InputError where the machine is not fitted yet, no settings are proposed, the move is not known or a factor is out
// of range.
TriedSettings try_settings(const Evaluation& evaluation, const Trial& trial);

}  // namespace evenbeam::workflow
