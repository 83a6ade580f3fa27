#include "tuning/proposal.h"

#include <algorithm>
#include <cmath>

#include "simulation/linear_loop.h"
#include "tuning/gain_choice.h"
#include "tuning/proposal_reasons.h"
#include "tuning/textbook_start.h"
#include "tuning/tuning_basis.h"

namespace evenbeam::tuning {
namespace {

using machine::Settings;

void set_feed_forward(Settings& s, const SharePlan& share, const identification::Identified& id,
                      const machine::Machine& machine) {
  const dynamics::Plant& p = id.plant;
  const double y = (machine::carriage_range(machine).min_y_m + machine::carriage_range(machine).max_y_m) / 2;
  const double payload = (machine.payload_min_kg + machine.payload_max_kg.value_or(0)) / 2;
  s.share = share_at_place(share, machine.carriage_y_m.value_or(y));
  dynamics::Plant middle = at_case(p, {y, payload});
  s.mass_ff_kg = mean_mass(middle) / (s.share * p.a.force_scale + (1 - s.share) * p.b.force_scale);
  s.skew_ff_kg = skew_mass(middle) / mean_scale(p);
  s.coulomb_ff_a_n = p.a.coulomb_n / p.a.force_scale;
  s.coulomb_ff_b_n = p.b.coulomb_n / p.b.force_scale;
  s.viscous_ff_a_n_s_per_m = p.a.viscous_n_s_per_m / p.a.force_scale;
  s.viscous_ff_b_n_s_per_m = p.b.viscous_n_s_per_m / p.b.force_scale;
  s.coulomb_ramp_m_per_s = 1e-3;
}

// Between a factor that holds and one a little beyond; empty where that holds too.
std::optional<double> unstable_gain(const Basis& b, const Settings& s, double holds_at, double beyond) {
  constexpr int kHalvings = 5;
  if (stable_with_gain(b, s, beyond)) return std::nullopt;
  double low = holds_at, high = beyond;
  for (int i = 0; i < kHalvings; ++i) {
    const double middle = std::sqrt(low * high);
    (stable_with_gain(b, s, middle) ? low : high) = middle;
  }
  return high;
}

}  // namespace

Settings at_place(const Proposal& proposal, Settings settings, double carriage_y_m) {
  settings.share = share_at_place(proposal.share, carriage_y_m);
  return settings;
}

std::vector<Case> tuning_cases(const machine::Machine& machine, double carriage_y_m) {
  const machine::CarriageRange range = machine::carriage_range(machine);
  std::vector<double> payloads{machine.payload_min_kg};
  if (machine.payload_max_kg && *machine.payload_max_kg > machine.payload_min_kg)
    payloads.push_back(*machine.payload_max_kg);
  std::vector<Case> out;
  for (double payload : payloads)
    for (int i = 0; i <= 4; ++i) out.push_back({range.min_y_m + i * (range.max_y_m - range.min_y_m) / 4, payload});
  out.push_back({carriage_y_m, machine.payload_min_kg});
  return out;
}

dynamics::Plant at_case(dynamics::Plant plant, const Case& c) {
  plant.carriage_y_m = c.carriage_y_m;
  plant.payload_kg = c.payload_kg;
  return plant;
}

Proposal propose(const identification::Identified& id, const machine::Machine& machine,
                 const ProposalOptions& options) {
  Proposal out;
  if (!id.plant_known) {
    if (!id.plant_reason.empty()) out.reason = id.plant_reason;
    return out;
  }
  if (!machine.servo_period_s) {
    out.reason = "the servo period is not stated: add servo_period to machine.toml";
    return out;
  }
  if (!machine.a.peak_force_n || !machine.b.peak_force_n) {
    out.reason = "the peak force of each side is not stated: add peak_force to machine.toml";
    return out;
  }
  Basis b = basis_of(id, machine, options);
  Settings start;
  start.period_s = b.period_s;
  start.peak_force_a_n = *machine.a.peak_force_n;
  start.peak_force_b_n = *machine.b.peak_force_n;
  set_feed_forward(start, b.share, id, machine);
  out.share = b.share;
  const TextbookStart textbook = textbook_start(b, start, options.promised_sensitivity);
  const auto [mean, skew] = textbook.stretches;
  b.lag_s = out.small_lag_s = textbook.lag_s, b.filter_hz = textbook.filter_hz;
  out.lag_factor = textbook.lag_factor;
  if (mean == 0) {
    out.nearest = nearest_to(b, start);
    out.reason = none_meets(options.promised_sensitivity, out.nearest);
    return out;
  }
  out.stretch_mean = mean;
  out.stretch_skew = skew;
  out.textbook = out.settings = with_stretch(b, start, mean, skew);
  if (options.search) search_from_textbook(out, b, machine, options);
  for (const Case& c : b.cases) {
    const dynamics::Plant plant = at_case(b.plant, c);
    const Settings here = with_share(b, out.settings, c.carriage_y_m);
    const CaseResult result{c, peak_sensitivity(plant, here), simulation::stability(plant, here).stable};
    if (result.sensitivity.peak > out.worst.peak) out.worst = result.sensitivity;
    out.cases.push_back(result);
  }
  if (!b.hz.empty()) out.measured = peak_sensitivity(b.hz, b.measured, with_share(b, out.settings, b.measured_y_m));
  out.least_gain = worst_of(b, with_gain(out.settings, least_gain));
  out.most_gain = worst_of(b, with_gain(out.settings, most_gain));
  out.unstable_below = unstable_gain(b, out.settings, least_gain, least_gain / 1.1);
  out.unstable_above = unstable_gain(b, out.settings, most_gain, most_gain * 1.1);
  out.measured_hz = b.hz;
  out.measured_g = b.measured;
  out.binding =
      binding_of(out, options.noise_part * std::min(start.peak_force_a_n, start.peak_force_b_n), b.measured_y_m);
  out.found = true;
  out.reason.clear();
  return out;
}

}  // namespace evenbeam::tuning
