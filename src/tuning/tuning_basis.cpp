#include "tuning/tuning_basis.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "simulation/linear_loop.h"
#include "tuning/textbook.h"

namespace evenbeam::tuning {

using machine::Settings;

double mean_mass(const dynamics::Plant& p) { return dynamics::total_mass_kg(p); }
double skew_mass(const dynamics::Plant& p) {
  const double s = dynamics::first_moment_kg_m(p);
  return (dynamics::yaw_inertia_kg_m2(p) - s * s / dynamics::total_mass_kg(p)) / (p.span_m * p.span_m);
}
double mean_scale(const dynamics::Plant& p) { return (p.a.force_scale + p.b.force_scale) / 2; }

Settings with_share(const Basis& b, Settings s, double carriage_y_m) {
  s.share = share_at_place(b.share, carriage_y_m);
  return s;
}

Settings with_gain(Settings s, double factor) {
  s.mean.velocity_gain_n_s_per_m *= factor;
  s.skew.velocity_gain_n_s_per_m *= factor;
  return s;
}

Settings with_stretch(const Basis& b, Settings s, double mean, double skew) {
  const double g = mean_scale(b.plant);
  s.mean = symmetrical_optimum(mean_mass(b.plant) / g, mean, b.lag_s);
  s.skew = symmetrical_optimum(skew_mass(b.plant) / g, skew, b.lag_s);
  s.mean.velocity_filter_hz = s.skew.velocity_filter_hz = b.filter_hz;
  return s;
}

PeakSensitivity worst_of(const Basis& b, const Settings& s) {
  PeakSensitivity worst;
  const LawLines law = law_lines(b.plants.front().lines, s);
  for (size_t k = 0; k < b.cases.size(); ++k) {
    const PeakSensitivity p = peak_sensitivity(b.plants[k], with_share(b, s, b.cases[k].carriage_y_m), law);
    if (p.peak > worst.peak) worst = p;
  }
  if (!b.hz.empty()) {
    const PeakSensitivity p = peak_sensitivity(b.hz, b.measured, with_share(b, s, b.measured_y_m));
    if (p.peak > worst.peak) worst = p;
  }
  return worst;
}

bool stable_with_gain(const Basis& b, const Settings& proposed, double factor) {
  const Settings s = with_gain(proposed, factor);
  return std::all_of(b.cases.begin(), b.cases.end(), [&](const Case& c) {
    return simulation::stability(at_case(b.plant, c), with_share(b, s, c.carriage_y_m)).stable;
  });
}

bool stable_with_any_gain(const Basis& b, const Settings& proposed) {
  return stable_with_gain(b, proposed, 1) && stable_with_gain(b, proposed, least_gain) &&
         stable_with_gain(b, proposed, most_gain);
}

namespace {

// On the lines alone, without looking between them: enough to refuse.
bool breaks_on_lines(const Basis& b, const Settings& s, double limit) {
  const LawLines law = law_lines(b.plants.front().lines, s);
  for (size_t k = 0; k < b.cases.size(); ++k)
    if (peak_on_lines(b.plants[k], with_share(b, s, b.cases[k].carriage_y_m), law).peak > limit) return true;
  return false;
}

}  // namespace

bool holds(const Basis& b, const Settings& s, double limit) {
  return !breaks_on_lines(b, s, limit) && worst_of(b, s).peak <= limit && stable_with_any_gain(b, s);
}

Basis basis_of(const identification::Identified& id, const machine::Machine& machine,
               const ProposalOptions& options) {
  Basis b;
  b.plant = id.plant;
  b.share = share_plan(id, machine);
  b.measured_y_m = id.response_carriage_y_m;
  b.period_s = *machine.servo_period_s;
  const double known = id.grey.done || !id.motion.done ? id.plant.delay_s + id.plant.current_lag_s + b.period_s / 2
                                                       : id.motion.lag_s.value;
  const double bare = std::max(known, 1.5 * b.period_s);
  // The filter's own lag is part of T: with f = k/(2 pi a T) at a = 3 its lag is a T/k.
  b.lag_s = bare / (1 - std::min(0.5, 3 / options.velocity_filter_over_crossover));
  b.filter_hz =
      std::min(options.velocity_filter_over_crossover / (2 * std::numbers::pi * 3 * b.lag_s), 0.4 / b.period_s);
  b.cases = tuning_cases(machine, id.motion.carriage_y_m);
  for (const Case& c : b.cases) b.plants.push_back(plant_lines(at_case(b.plant, c), b.period_s));
  if (id.response.state == signal::ResponseState::done)
    for (size_t i = 0; i < id.response.frequency_hz.size(); ++i) {
      const auto sd = signal::standard_deviations(id.response.covariance[i]);
      const auto& g = id.response.g[i];
      if (std::max(sd[0], sd[3]) > 0.1 * std::max(std::abs(g.aa), std::abs(g.bb))) continue;
      b.hz.push_back(id.response.frequency_hz[i]);
      b.measured.push_back(g);
    }
  return b;
}

}  // namespace evenbeam::tuning
