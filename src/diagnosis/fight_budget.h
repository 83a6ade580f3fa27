#pragma once
// What the force difference d = (F_A - F_B)/2 is made of, averaged over one phase of one recording (commanded
// newtons).
//   whole = mean d = spring + damping + Coulomb + viscous + force per output + rest
//   spring   K/L^2 (s - s_free)            Coulomb  (c_A sign(v_A) - c_B sign(v_B))/2, moving only
//   damping  C/L^2 s'                      viscous  (v_A b_A - v_B b_B)/2
//   force per output  -e (F_A + F_B)/2     rest     whole less all these: pull of cables, pitch, held friction,
//   timing
// Phases are standing and even speed, where inertia has no part. Every part is a linear function g'x of the one
// motion fit, so its interval follows from the fit's covariance and its size from no order. The rest takes what
// remains, so that the parts sum to the whole. Standing friction has no known direction: it lies in the rest. Source:
// docs/equations.md, "Motion fit"; derived there.
#include <cstddef>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "identification/motion_fit.h"
#include "math/estimate.h"
#include "recording/motion.h"
#include "recording/recording.h"

namespace evenbeam::diagnosis {

enum class Phase { standing, forward, backward };
std::string to_text(Phase phase);

// Means over a phase's samples.
struct PhaseMeans {
  Phase phase = Phase::standing;
  double seconds = 0, from_s = 0, to_s = 0;
  double fight_n = 0, fight_sd_n = 0;  // sd of the mean, from the spread of block means
  double sum_n = 0;                    // F_A + F_B
  double skew_m = 0, skew_rate_m_per_s = 0, speed_m_per_s = 0;
};
std::vector<PhaseMeans> phases_of(const recording::Recording& recording);

struct Part {
  std::string name;
  math::Estimate force_n;
};

struct FightBudget {
  std::string recording;
  PhaseMeans means;
  std::vector<Part> parts;  // sum to means.fight_n
  // Pairs these recordings cannot tell apart: estimates of opposite error (correlation beyond -0.9), each wider than
  // a fifth of the whole. Only their sum is known.
  std::vector<std::pair<std::string, std::string>> inseparable;
};

// Speed at sample i within `part` of the top speed (and 1 um/s) of what it was `back` samples ago.
bool even_since(const recording::Motion& motion, std::size_t i, std::size_t back, double part);
// The fit's column of this recording's zero of skew; empty where it does not know it.
std::optional<std::ptrdiff_t> zero_of_skew(const identification::MotionFit& fit,
                                           const recording::Recording& recording);

// Empty where the fit is not done or does not know this recording's zero of skew.
std::vector<FightBudget> fight_budgets(const recording::Recording& recording, const identification::MotionFit& fit);

}  // namespace evenbeam::diagnosis
