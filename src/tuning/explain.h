#pragma once
// Why these settings: what 20 % more or less of each one costs, which resonance limits them, and which mechanical
// change would help most.
// Each is asked of the same short move (first stroke and rest) of the fitted plant without counts, and of the peak
// sensitivity at the ends and the middle of the carriage's travel.
#include <string>
#include <vector>

#include "tuning/move_forecast.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct SettingCost {
  std::string setting;
  double less_peak_skew_m = 0, less_sensitivity = 0;  // at 0.8 times
  double more_peak_skew_m = 0, more_sensitivity = 0;  // at 1.2 times
};

struct LimitingResonance {
  double hz = 0;       // of the peak sensitivity
  double mode_hz = 0;  // the plant's mode nearest to it, 0 where none is within a factor of two
  std::string mode;    // its name (dynamics/modes.h)
  std::string part;    // the stiffness that moves it most
};

// Textbook loops drawn back to the same sensitivity for the changed machine: a fresh tuning in short.
struct MechanicalChange {
  std::string change;    // "drive stiffness B 30 % up"
  double bandwidth = 1;  // crossover against the machine as it is
  double peak_skew_m = 0;
};

struct Explanation {
  std::string move;
  double peak_skew_m = 0, sensitivity = 0;  // as proposed
  std::vector<SettingCost> costs;           // the dearest first
  LimitingResonance limit;
  double textbook_peak_skew_m = 0;        // of the machine as it is, textbook loops at the same sensitivity
  std::vector<MechanicalChange> changes;  // the most helpful first
};
Explanation explain(const ForecastMove& move, const identification::Identified& identified,
                    const machine::Machine& machine, const Proposal& proposal);

// The move until its first rest is over; the whole where it never rests.
ForecastMove first_stroke(const ForecastMove& move, double period_s);

// Velocity and position gains by k, integral times by 1/k; filters too where asked.
machine::Settings scaled(machine::Settings settings, double k, bool filters);

}  // namespace evenbeam::tuning
