#include "tuning/proposal.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "simulation/linear_loop.h"
#include "tuning/proposal_reasons.h"
#include "tuning/textbook.h"

namespace evenbeam::tuning {
namespace {

using machine::Settings;

constexpr double kLeastStretch = 2.4, kMostStretch = 60;
constexpr double kStretchStep = 1.06;
// What a person may change at the controller without asking again, and how wrong a force constant may be.
constexpr double kLeastGain = 0.6, kMostGain = 1.6;

double mean_mass(const dynamics::Plant& p) { return dynamics::total_mass_kg(p); }
double skew_mass(const dynamics::Plant& p) {
  const double s = dynamics::first_moment_kg_m(p);
  return (dynamics::yaw_inertia_kg_m2(p) - s * s / dynamics::total_mass_kg(p)) / (p.span_m * p.span_m);
}

// Real newtons turned into commanded ones by the mean of both scales (share and feed-forwards take each side's own).
double mean_scale(const dynamics::Plant& p) { return (p.a.force_scale + p.b.force_scale) / 2; }

struct Basis {
  dynamics::Plant plant;  // real newtons, where the carriage stood
  double period_s = 0, lag_s = 0, filter_hz = 0;
  std::vector<Case> cases;
  std::vector<PlantLines> plants;  // of the cases
  std::vector<double> hz;
  std::vector<math::Complex2x2> measured;  // commanded newtons
  double measured_y_m = 0;
  SharePlan share;
};

Settings with_share(const Basis& b, Settings s, double carriage_y_m) {
  s.share = share_at_place(b.share, carriage_y_m);
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

Settings with_gain(Settings s, double factor) {
  s.mean.velocity_gain_n_s_per_m *= factor;
  s.skew.velocity_gain_n_s_per_m *= factor;
  return s;
}

// Both gains times `factor`; exact eigenvalues, so that no resonance is too narrow to be found.
bool stable_everywhere(const Basis& b, const Settings& proposed, double factor) {
  const Settings s = with_gain(proposed, factor);
  return std::all_of(b.cases.begin(), b.cases.end(), [&](const Case& c) {
    return simulation::stability(at_case(b.plant, c), with_share(b, s, c.carriage_y_m)).stable;
  });
}

// A sensitivity peak below the limit does not prove stability, so both are asked.
bool holds(const Basis& b, const Settings& s, double limit) {
  return worst_of(b, s).peak <= limit && stable_everywhere(b, s, 1) && stable_everywhere(b, s, kLeastGain) &&
         stable_everywhere(b, s, kMostGain);
}

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

double smallest_stretch(const Basis& b, const Settings& s, double limit, bool mean, double other) {
  for (double a = kLeastStretch; a <= kMostStretch; a *= kStretchStep)
    if (holds(b, with_stretch(b, s, mean ? a : other, mean ? other : a), limit)) return a;
  return 0;
}

// Softer loops have less to lose to lag, but an integral too slow for its gain costs too: all of them are looked at.
std::optional<Nearest> nearest_to(const Basis& b, const Settings& s) {
  std::optional<Nearest> out;
  for (double a = kLeastStretch; a <= kMostStretch; a *= kStretchStep) {
    const Nearest one{with_stretch(b, s, a, a), a, worst_of(b, with_stretch(b, s, a, a))};
    if (out && one.worst.peak >= out->worst.peak) continue;
    if (stable_everywhere(b, one.settings, 1) && stable_everywhere(b, one.settings, kLeastGain) &&
        stable_everywhere(b, one.settings, kMostGain))
      out = one;
  }
  return out;
}

// Responses at the ends of travel and payload and where the machine was recorded, over lines 6 % apart.
std::vector<SearchCase> search_cases(const Basis& b) {
  std::vector<double> hz;
  for (double f = 0.5; f < 0.49 / b.period_s; f *= f < 20 ? 1.25 : 1.06) hz.push_back(f);
  std::vector<SearchCase> out;
  for (const size_t k : {size_t{0}, b.cases.size() - 2, b.cases.size() - 1}) {
    const Case& c = b.cases[k];
    SearchCase one{.share = share_at_place(b.share, c.carriage_y_m), .hz = hz};
    const auto model = dynamics::response_model(at_case(b.plant, c), b.period_s);
    for (double f : hz) {
      const dynamics::SideResponse g = dynamics::response(model, 2 * std::numbers::pi * f);
      one.g.push_back({g.aa, g.ab, g.ba, g.bb});
    }
    out.push_back(std::move(one));
  }
  if (b.hz.empty()) return out;
  SearchCase seen{.share = share_at_place(b.share, b.measured_y_m), .counts_for_cost = false};
  for (size_t i = 0; i < b.hz.size(); ++i)  // lines nearer than 2 % are thinned; the check afterwards takes all
    if (seen.hz.empty() || b.hz[i] > 1.02 * seen.hz.back())
      seen.hz.push_back(b.hz[i]), seen.g.push_back(b.measured[i]);
  out.push_back(std::move(seen));
  return out;
}

// The worst line of a case becomes a case of its own.
void add_missed(std::vector<SearchCase>& cases, const Basis& b, const Settings& s, double limit) {
  for (const Case& c : b.cases) {
    const double share = share_at_place(b.share, c.carriage_y_m);
    const dynamics::Plant plant = at_case(b.plant, c);
    const PeakSensitivity p = peak_sensitivity(plant, with_share(b, s, c.carriage_y_m));
    if (p.peak <= limit) continue;
    const auto model = dynamics::response_model(plant, b.period_s);
    SearchCase one{.share = share, .counts_for_cost = false};
    for (double f : {p.at_hz / 1.02, p.at_hz, p.at_hz * 1.02}) {
      const dynamics::SideResponse g = dynamics::response(model, 2 * std::numbers::pi * f);
      one.hz.push_back(f), one.g.push_back({g.aa, g.ab, g.ba, g.bb});
    }
    cases.push_back(std::move(one));
  }
  if (b.hz.empty()) return;
  const PeakSensitivity p = peak_sensitivity(b.hz, b.measured, with_share(b, s, b.measured_y_m));
  if (p.peak <= limit) return;
  const auto at = static_cast<size_t>(std::find(b.hz.begin(), b.hz.end(), p.at_hz) - b.hz.begin());
  cases.push_back({share_at_place(b.share, b.measured_y_m), {b.hz[at]}, {b.measured[at]}, false});
}

// Biquads that change nothing (zn = zd) where the search may begin to bend them: at the worst line of the start, and
// at the bending if one is known.
void add_neutral_filters(Settings& s, const Basis& b, double worst_hz) {
  const double second = b.plant.bending_hz > 0 ? b.plant.bending_hz : 2 * worst_hz;
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) c->filters = {{worst_hz, 0.7, 0.7}, {second, 0.7, 0.7}};
}

void drop_idle_filters(Settings& s) {
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew})
    std::erase_if(c->filters, [](const machine::Biquad& f) { return std::abs(f.zn / f.zd - 1) < 0.02; });
}

void improve(Proposal& out, const Basis& b, const machine::Machine& machine, const ProposalOptions& options) {
  if (options.tries <= 0) return;
  constexpr int kRounds = 4;
  SearchLimits limits{
      .sensitivity = 0.99 * options.promised_sensitivity,
      .noise_n = options.noise_part * std::min(out.settings.peak_force_a_n, out.settings.peak_force_b_n),
      .count_a_m = machine.a.count_m.value_or(0),
      .count_b_m = machine.b.count_m.value_or(0)};
  std::vector<SearchCase> cases = search_cases(b);
  out.before = out.after = score(cases, out.settings, limits);
  Settings s = out.settings;
  add_neutral_filters(s, b, out.before.at_hz);
  for (int round = 0; round < kRounds; ++round) {
    const SearchResult found =
        search_gains(cases, s, limits, options.tries / kRounds, options.seed + static_cast<std::uint64_t>(round));
    s = found.settings;
    Settings kept = s;
    drop_idle_filters(kept);
    const SearchScore after = score(cases, kept, limits);
    if (after.cost < out.after.cost && after.noise_n <= limits.noise_n &&
        holds(b, kept, options.promised_sensitivity)) {
      out.settings = kept;
      out.after = after;
      out.searched = true;
    } else {
      add_missed(cases, b, s, options.promised_sensitivity);
    }
  }
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
  const Basis b = basis_of(id, machine, options);
  Settings start;
  start.period_s = b.period_s;
  start.peak_force_a_n = *machine.a.peak_force_n;
  start.peak_force_b_n = *machine.b.peak_force_n;
  set_feed_forward(start, b.share, id, machine);
  out.small_lag_s = b.lag_s;
  out.share = b.share;
  // Each coordinate alone with the other very soft, then both together, drawn back in step until the promise holds.
  double mean = smallest_stretch(b, start, options.promised_sensitivity, true, kMostStretch);
  double skew = smallest_stretch(b, start, options.promised_sensitivity, false, kMostStretch);
  if (mean == 0 || skew == 0) {
    out.nearest = nearest_to(b, start);
    out.reason = none_meets(options.promised_sensitivity, out.nearest);
    return out;
  }
  while (!holds(b, with_stretch(b, start, mean, skew), options.promised_sensitivity)) {
    mean *= kStretchStep;
    skew *= kStretchStep;
    if (std::min(mean, skew) > kMostStretch) {
      out.nearest = nearest_to(b, start);
      out.reason = none_meets(options.promised_sensitivity, out.nearest);
      return out;
    }
  }
  out.stretch_mean = mean;
  out.stretch_skew = skew;
  out.textbook = out.settings = with_stretch(b, start, mean, skew);
  improve(out, b, machine, options);
  for (const Case& c : b.cases) {
    const dynamics::Plant plant = at_case(b.plant, c);
    const Settings here = with_share(b, out.settings, c.carriage_y_m);
    const CaseResult result{c, peak_sensitivity(plant, here), simulation::stability(plant, here).stable};
    if (result.sensitivity.peak > out.worst.peak) out.worst = result.sensitivity;
    out.cases.push_back(result);
  }
  if (!b.hz.empty()) out.measured = peak_sensitivity(b.hz, b.measured, with_share(b, out.settings, b.measured_y_m));
  out.least_gain = worst_of(b, with_gain(out.settings, kLeastGain));
  out.most_gain = worst_of(b, with_gain(out.settings, kMostGain));
  out.measured_hz = b.hz;
  out.measured_g = b.measured;
  out.binding =
      binding_of(out, options.noise_part * std::min(start.peak_force_a_n, start.peak_force_b_n), b.measured_y_m);
  out.found = true;
  out.reason.clear();
  return out;
}

}  // namespace evenbeam::tuning
