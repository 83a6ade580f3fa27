#pragma once
// Settings by textbook rule, then drawn back until the promised peak sensitivity holds at every carriage place and
// payload looked at, on the fitted model and on the measured response.
// Rule: symmetrical optimum (Kessler 1958, from memory) per coordinate, T the sum of small lags (delay, half the
// hold, current lag, velocity filter):
//   Kv = m/(a T),  Ti = a^2 T,  Kp = 1/(4 a T)
// m = M for the mean, (J - S^2/M)/L^2 for the skew; a >= 2.4 stretches the loop: larger is slower and more robust.
// Feed-forward: share, masses and each side's friction from the fit, divided by each side's force scale, since the
// controller commands nameplate newtons.
// "No settings meet this" is an answer: `found` is false and `nearest` says what was reached.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {

struct Case {
  double carriage_y_m = 0, payload_kg = 0;
};
std::vector<Case> tuning_cases(const machine::Machine& machine, double carriage_y_m);
dynamics::Plant at_case(dynamics::Plant plant, const Case& c);

struct ProposalOptions {
  double promised_sensitivity = 1.6;  // kept below 1.7 at every case; textbook range 1.2..2 (Astrom and Murray)
  double velocity_filter_over_crossover = 12;
};

struct CaseResult {
  Case where;
  PeakSensitivity sensitivity;
  bool stable = false;
};

struct Proposal {
  bool found = false;
  std::string reason = "no plant is known";
  machine::Settings settings;
  double stretch_mean = 0, stretch_skew = 0;  // a
  double small_lag_s = 0;                     // T
  std::vector<CaseResult> cases;
  PeakSensitivity worst;     // over cases, model
  PeakSensitivity measured;  // on the measured response; peak 0 where there is none
  std::string binding;       // what stopped the gains from being higher
};

Proposal propose(const identification::Identified& identified, const machine::Machine& machine,
                 const ProposalOptions& options = {});

}  // namespace evenbeam::tuning
