#pragma once
// What every step of a proposal asks of: the fitted plant at all places and payloads, the measured response, the
// share. Internal to tuning.
#include <vector>

#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct Basis {
  dynamics::Plant plant;  // real newtons, where the carriage stood
  double period_s = 0, lag_s = 0, filter_hz = 0;
  std::vector<Case> cases;
  std::vector<PlantLines> plants;          // of the cases
  std::vector<double> hz;                  // of the measured response, lines that are known well enough
  std::vector<math::Complex2x2> measured;  // commanded newtons
  double measured_y_m = 0;
  SharePlan share;
};
Basis basis_of(const identification::Identified& identified, const machine::Machine& machine,
               const ProposalOptions& options);

double mean_mass(const dynamics::Plant& plant);
double skew_mass(const dynamics::Plant& plant);
// Real newtons turned into commanded ones by the mean of both scales (share and feed-forwards take each side's own).
double mean_scale(const dynamics::Plant& plant);

machine::Settings with_share(const Basis& basis, machine::Settings settings, double carriage_y_m);
machine::Settings with_gain(machine::Settings settings, double factor);  // both velocity gains
// Textbook loops, mean and skew stretched so far.
machine::Settings with_stretch(const Basis& basis, machine::Settings settings, double mean, double skew);

// Over all cases and the measured response.
PeakSensitivity worst_of(const Basis& basis, const machine::Settings& settings);
// Exact eigenvalues at all cases with both gains times `factor`.
bool stable_with_gain(const Basis& basis, const machine::Settings& settings, double factor);
// Exact eigenvalues at all cases as they are and with both gains times 0.6 and 1.6, so that no resonance is too
// narrow to be found.
bool stable_with_any_gain(const Basis& basis, const machine::Settings& settings);
// A sensitivity peak below the limit does not prove stability, so both are asked.
bool holds(const Basis& basis, const machine::Settings& settings, double limit);

}  // namespace evenbeam::tuning
