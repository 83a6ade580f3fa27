#pragma once
// A fault on the virtual gantry, for the page: one fault and one reaction in one of the person's moves, with the
// machine as fitted and the settings as proposed. The run is protection/fault_run.h; the bridge starts its move free
// of stress. One case, not the worst one: that is what station `trips` searches for.
#include <optional>
#include <string>
#include <vector>

#include "workflow/evaluation.h"

namespace evenbeam::workflow {

struct FaultTrial {
  std::string move;      // of moves_for_faults(); empty = the first
  std::string fault;     // as faults_to_try() spells it; empty = the first
  std::string reaction;  // as reactions_to_try() spells it; empty = what trips proposes, else both off
  bool side_is_b = false;
  double at_part = 0.5;             // of the move's duration, 0 to 1
  std::optional<double> latency_s;  // empty: that of trips, else 10 ms
  std::optional<double> carriage_y_m, payload_kg;
};

struct TriedFault {
  std::string move, fault, reaction;
  bool reached_standstill = false, seen = false;
  double fault_s = 0, latency_s = 0, carriage_y_m = 0, payload_kg = 0;
  double peak_skew_m = 0, peak_at_s = 0;  // from the stress-free attitude
  double guide_moment_n_m = 0;            // K_th times the peak yaw
  double stop_way_m = 0, stop_s = 0;      // from the fault on
  std::optional<double> allowable_skew_m, allowable_yaw_moment_n_m, skew_trip_m;
  std::vector<std::string> assumed;                                 // sizes no paper gave, as sentences
  std::vector<double> time_s, skew_m, way_m, force_a_n, force_b_n;  // the run; commanded newtons
};

std::vector<std::string> moves_for_faults(const Evaluation& evaluation);  // machine.toml's and recorded strokes
std::vector<std::string> faults_to_try(const Evaluation& evaluation);     // those this machine can have
std::vector<std::string> reactions_to_try();
// InputError where the machine is not fitted, nothing moves, or a word or number is not allowed.
TriedFault try_fault(const Evaluation& evaluation, const FaultTrial& trial);

}  // namespace evenbeam::workflow
