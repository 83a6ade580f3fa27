#pragma once
// Settings by textbook rule, then drawn back until the promised peak sensitivity holds at every carriage place and
// payload looked at, on the fitted model and on the measured response.
// Rule: symmetrical optimum (Kessler 1958, from memory) per coordinate, T the sum of small lags (delay, half the
// hold, current lag, velocity filter):
//   Kv = m/(a T),  Ti = a^2 T,  Kp = 1/(4 a T)
// m = M for the mean, (J - S^2/M)/L^2 for the skew; a >= 2.4 stretches the loop: larger is slower and more robust.
// Where no stretch up to 60 holds, T is taken longer than the lags (tuning/textbook_start.h).
// Feed-forward: share, masses and each side's friction from the fit, divided by each side's force scale, since the
// controller commands nameplate newtons.
// From there gains, velocity filters and two biquads a coordinate are searched (tuning/gain_search.h) under the same
// promise, never further from the textbook than pays; what the search missed between its lines is added to them and
// it goes on; the textbook settings stay where it found nothing that holds. Gains of both loops times 0.6 and 1.6
// must leave exact eigenvalues inside the circle. "No settings meet this" is an answer: `found` is false, and
// `nearest`, where not empty, are the gains of both loops stretched alike that come nearest and keep their
// eigenvalues inside the circle, with the worst of them.
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/identify.h"
#include "machine/machine.h"
#include "machine/settings.h"
#include "tuning/gain_search.h"
#include "tuning/sensitivity.h"
#include "tuning/share_plan.h"

namespace evenbeam::tuning {

struct Case {
  double carriage_y_m = 0, payload_kg = 0;
};
std::vector<Case> tuning_cases(const machine::Machine& machine, double carriage_y_m);
dynamics::Plant at_case(dynamics::Plant plant, const Case& c);

struct ProposalOptions {
  double promised_sensitivity = 1.6;  // kept below 1.7 at every case; textbook range 1.2..2 (Astrom and Murray)
  double velocity_filter_over_crossover = 12;
  double noise_part = 0.02;  // rms output from quantised feedback, part of peak force (common practice, no source)
  bool search = true;        // else textbook only
};

struct CaseResult {
  Case where;
  PeakSensitivity sensitivity;
  bool stable = false;
};

struct Nearest {
  machine::Settings settings;
  double stretch = 0, lag_s = 0;
  PeakSensitivity worst;
};

struct Proposal {
  bool found = false;
  std::string reason = "no plant is known";
  machine::Settings settings;
  double stretch_mean = 0, stretch_skew = 0;  // a
  double small_lag_s = 0;                     // T
  double lag_factor = 1;                      // T over the lags themselves (tuning/textbook_start.h)
  std::vector<CaseResult> cases;
  PeakSensitivity worst;                  // over cases, model
  PeakSensitivity measured;               // on the measured response; peak 0 where there is none
  PeakSensitivity least_gain, most_gain;  // worst of model and measured with both velocity gains x 0.6 and x 1.6
  // Both velocity gains times these leave the unit circle at some place; empty where they would have to go a tenth
  // beyond 0.6 or 1.6.
  std::optional<double> unstable_below, unstable_above;
  std::vector<double> measured_hz;  // the lines of the measured response that are well enough known
  std::vector<math::Complex2x2> measured_g;
  std::optional<Nearest> nearest;  // where none was found
  std::string binding;             // what stopped the gains from being higher, and where
  SharePlan share;
  machine::Settings textbook;  // the start of the search, same promise
  bool searched = false;       // the search found better settings that hold
  SearchScore before, after;   // of textbook and settings on the search's lines
};

// With the share the controller will hold there.
machine::Settings at_place(const Proposal& proposal, machine::Settings settings, double carriage_y_m);

Proposal propose(const identification::Identified& identified, const machine::Machine& machine,
                 const ProposalOptions& options = {});

}  // namespace evenbeam::tuning
