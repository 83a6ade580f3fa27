#pragma once
// All that station loops found out, before it is put into words, values and figures.
#include <string>
#include <vector>

#include "tuning/certificate.h"
#include "tuning/explain.h"
#include "tuning/learning.h"
#include "tuning/loops_forecasts.h"
#include "tuning/margins.h"
#include "tuning/proposal.h"
#include "tuning/structure_choice.h"

namespace evenbeam::tuning {

struct PlaceMargins {
  std::string where;  // "carriage at -0.85 m, 25 kg", "measured response"
  Margins margins;
};

// Gains entered in steps: both loops slowed by `part` in step, each forecast safe before the next is entered.
struct GainStep {
  double part = 1;
  bool stable = false;  // at every place and payload looked at
  double peak_sensitivity = 0;
  MoveForecast forecast;
};

// What integrators on both sides do against the bridge (docs/loops.md, "fight").
struct Fight {
  double stiffness_n_per_m = 0;   // K_th/L^2: force of each side for a metre of skew held against the guides
  double doubt_m = 0;             // of the stress-free skew, 95 %
  double with_integral_n = 0;     // standing fight for that doubt, skew loop with integral
  double without_integral_n = 0;  // the same without: the loop gives way
  double allowed_n = 0;  // a tenth of continuous force (common practice, no source), of peak where unknown / 20
};

struct LoopsReport {
  Proposal proposal;
  Forecasts forecasts;
  std::vector<PlaceMargins> margins;  // of the settings proposed: travel ends, middle, measured
  Proofs proofs;
  std::vector<GainStep> gain_steps;
  Fight fight;
  // Of one move, the first known; empty where none is.
  std::string studied_move;
  std::vector<StructureResult> structures;
  Explanation explanation;
  std::vector<Trial> trials;  // a machine drawn from the fit's intervals, learning with the fitted one
};

}  // namespace evenbeam::tuning
