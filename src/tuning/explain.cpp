#include "tuning/explain.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>

#include "dynamics/modes.h"
#include "tuning/plant_interval.h"
#include "tuning/textbook.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;
using identification::Identified;
using machine::Settings;

struct Asked {
  const Identified& id;
  const Proposal& p;
  ForecastMove move;
  std::vector<Case> cases;

  double skew(const Plant& plant, const Settings& s, bool own_share) const {
    Settings here = s;
    if (own_share) here.share = share_at_place(p.share, move.carriage_y_m);
    return run_move(move, plant, {.common = here}, {}).peak_skew_error_m;
  }
  std::vector<PlantLines> plants(const Plant& plant) const {
    std::vector<PlantLines> out;
    for (const Case& c : cases) out.push_back(plant_lines(at_case(plant, c), p.settings.period_s));
    return out;
  }
  // Of the plant at each of the cases, in their order.
  double sensitivity(const std::vector<PlantLines>& plants, const Settings& s) const {
    double worst = 0;
    for (size_t k = 0; k < cases.size(); ++k)
      worst = std::max(worst, peak_sensitivity(plants[k], at_place(p, s, cases[k].carriage_y_m)).peak);
    return worst;
  }
};

struct Named {
  std::string name;
  std::function<double&(Settings&)> value;
  bool in_loop = true;  // else feed-forward: the sensitivity does not know it
};

std::vector<Named> named_settings(const Settings& s) {
  std::vector<Named> out;
  for (bool mean : {true, false}) {
    const std::string of = mean ? "mean " : "skew ";
    const auto loop = [mean](Settings& x) -> machine::CoordinateLoop& { return mean ? x.mean : x.skew; };
    out.push_back({of + "velocity gain", [loop](Settings& x) -> double& { return loop(x).velocity_gain_n_s_per_m; }});
    out.push_back({of + "velocity integral", [loop](Settings& x) -> double& { return loop(x).velocity_integral_s; }});
    out.push_back({of + "position gain", [loop](Settings& x) -> double& { return loop(x).position_gain_per_s; }});
    out.push_back({of + "velocity filter", [loop](Settings& x) -> double& { return loop(x).velocity_filter_hz; }});
    for (size_t i = 0; i < (mean ? s.mean : s.skew).filters.size(); ++i)
      out.push_back({fmt::format("{}filter {} frequency", of, i + 1),
                     [loop, i](Settings& x) -> double& { return loop(x).filters[i].hz; }});
  }
  const auto forward = [&](const std::string& name, double Settings::*member) {
    out.push_back({name, [member](Settings& x) -> double& { return x.*member; }, false});
  };
  forward("share", &Settings::share);
  forward("mass feed-forward", &Settings::mass_ff_kg);
  forward("Coulomb feed-forward A", &Settings::coulomb_ff_a_n);
  forward("Coulomb feed-forward B", &Settings::coulomb_ff_b_n);
  forward("viscous feed-forward A", &Settings::viscous_ff_a_n_s_per_m);
  forward("viscous feed-forward B", &Settings::viscous_ff_b_n_s_per_m);
  return out;
}

std::vector<SettingCost> setting_costs(const Asked& asked, double sensitivity) {
  std::vector<SettingCost> out;
  const Settings proposed = at_place(asked.p, asked.p.settings, asked.move.carriage_y_m);
  const std::vector<PlantLines> plants = asked.plants(asked.id.plant);
  std::vector<Settings> changed;  // less and more of each
  for (const Named& n : named_settings(proposed)) {
    SettingCost c{.setting = n.name, .less_sensitivity = sensitivity, .more_sensitivity = sensitivity};
    for (bool more : {false, true}) {
      Settings s = proposed;
      n.value(s) *= more ? 1.2 : 0.8;
      if (n.in_loop) (more ? c.more_sensitivity : c.less_sensitivity) = asked.sensitivity(plants, s);
      changed.push_back(s);
    }
    out.push_back(c);
  }
  const auto peaks = peak_skews(asked.move, std::vector(changed.size(), asked.id.plant), changed, {});
  for (size_t k = 0; k < out.size(); ++k)
    out[k].less_peak_skew_m = peaks[2 * k], out[k].more_peak_skew_m = peaks[2 * k + 1];
  std::stable_sort(out.begin(), out.end(), [](const SettingCost& a, const SettingCost& b) {
    return std::max(a.less_peak_skew_m, a.more_peak_skew_m) > std::max(b.less_peak_skew_m, b.more_peak_skew_m);
  });
  return out;
}

LimitingResonance limiting_resonance(const Asked& asked, double hz) {
  LimitingResonance out{.hz = hz};
  dynamics::Mode mode;
  for (const dynamics::Mode& m : dynamics::modes(asked.id.plant))
    if (!(mode.hz > 0) || std::abs(std::log(m.hz / hz)) < std::abs(std::log(mode.hz / hz))) mode = m;
  if (!(mode.hz > hz / 2 && mode.hz < hz * 2)) return out;
  out.mode_hz = mode.hz;
  out.mode = mode.name;
  double most = 0;
  for (Part part : {Part::yaw_stiffness, Part::stiffness_a, Part::stiffness_b, Part::bending_hz}) {
    Plant stiffer = asked.id.plant;
    double& value = value_of(stiffer, part);
    if (!(value > 0)) continue;
    value *= part == Part::bending_hz ? std::sqrt(1.02) : 1.02;
    double moved = 0;  // the mode that began there, wherever it went
    for (const dynamics::Mode& m : dynamics::modes(stiffer))
      if (std::abs(m.hz / mode.hz - 1) < 0.02) moved = std::max(moved, m.hz / mode.hz - 1);
    if (moved > most) most = moved, out.part = name_of(part);
  }
  return out;
}

// Textbook loops for a plant, drawn back until the promise holds at the places looked at: a fresh tuning in short.
struct Retuned {
  double crossover_per_s = 0;  // 1/(a T); 0 where even the softest break the promise
  double peak_skew_m = 0;
};

Retuned retuned(const Asked& asked, const Plant& plant, double promise) {
  const Plant& fitted = asked.id.plant;
  const double half = asked.p.settings.period_s / 2, scale = (plant.a.force_scale + plant.b.force_scale) / 2;
  const double lag = asked.p.small_lag_s * (plant.delay_s + plant.current_lag_s + half) /
                     (fitted.delay_s + fitted.current_lag_s + half);
  const double mass = dynamics::total_mass_kg(plant), moment = dynamics::first_moment_kg_m(plant);
  const double skew_mass =
      (dynamics::yaw_inertia_kg_m2(plant) - moment * moment / mass) / (plant.span_m * plant.span_m);
  const auto at_stretch = [&](double a) {
    Settings s = asked.p.textbook;
    const double filter_hz =
        s.mean.velocity_filter_hz * asked.p.small_lag_s / lag;  // it moves with the lags it adds to
    s.mean = symmetrical_optimum(mass / scale, a, lag), s.skew = symmetrical_optimum(skew_mass / scale, a, lag);
    s.mean.velocity_filter_hz = s.skew.velocity_filter_hz = filter_hz;
    return s;
  };
  const std::vector<PlantLines> plants = asked.plants(plant);
  const auto holds = [&](double a) { return asked.sensitivity(plants, at_stretch(a)) <= promise; };
  double low = 2.4, high = 60;
  if (!holds(high)) return {};
  for (int i = 0; i < 9; ++i) {
    const double middle = std::sqrt(low * high);
    (holds(middle) ? high : low) = middle;
  }
  Settings s = at_stretch(high);
  s.mass_ff_kg *= mass / dynamics::total_mass_kg(fitted);
  s.coulomb_ff_a_n = plant.a.coulomb_n / plant.a.force_scale,
  s.coulomb_ff_b_n = plant.b.coulomb_n / plant.b.force_scale;
  // The share follows the changed masses, as a new fit would find.
  const Case here{asked.move.carriage_y_m, asked.move.payload_kg};
  s.share = share_at_place(asked.p.share, here.carriage_y_m) + dynamics::balanced_share(at_case(plant, here)) -
            dynamics::balanced_share(at_case(fitted, here));
  return {1 / (high * lag), asked.skew(plant, s, false)};
}

struct Idea {
  std::string text;
  Part part;
  double factor;
};

std::vector<MechanicalChange> mechanical_changes(const Asked& asked, double promise, double& as_it_is_m) {
  const Idea ideas[] = {{"drive stiffness A 30 % up", Part::stiffness_a, 1.3},
                        {"drive stiffness B 30 % up", Part::stiffness_b, 1.3},
                        {"yaw stiffness of guides and joints 30 % up", Part::yaw_stiffness, 1.3},
                        {"bridge 30 % stiffer in bending", Part::bending_hz, std::sqrt(1.3)},
                        {"bridge 20 % lighter", Part::fixed_mass, 0.8},
                        {"carriage 20 % lighter", Part::carriage_mass, 0.8},
                        {"friction of A 30 % down", Part::coulomb_a, 0.7},
                        {"friction of B 30 % down", Part::coulomb_b, 0.7},
                        {"drive damping of A doubled", Part::damping_a, 2},
                        {"drive damping of B doubled", Part::damping_b, 2},
                        {"current lag 30 % down", Part::lag, 0.7},
                        {"delay of the loop 30 % down", Part::delay, 0.7}};
  const Retuned before = retuned(asked, asked.id.plant, promise);
  as_it_is_m = before.peak_skew_m;
  std::vector<MechanicalChange> out;
  for (const Idea& idea : ideas) {
    Plant changed = asked.id.plant;
    double& value = value_of(changed, idea.part);
    if (!(value > 0) || !(before.crossover_per_s > 0)) continue;
    value *= idea.factor;
    // Fed forward, friction leaves what delay and ramp miss of it: a pulse of fight that goes with the difference of
    // the sides (docs/loops.md), so that less of the smaller one makes more skew.
    std::string text = idea.text;
    if (idea.part == Part::coulomb_a || idea.part == Part::coulomb_b) {
      const auto apart = [](const Plant& p) { return std::abs(p.a.coulomb_n - p.b.coulomb_n); };
      text +=
          apart(changed) < apart(asked.id.plant) ? " (nearer to the other side's)" : " (further from the other's)";
    }
    if (idea.part == Part::fixed_mass)
      changed.fixed_inertia_kg_m2 *= idea.factor, changed.fixed_moment_kg_m *= idea.factor,
          changed.bending_mass_kg *= idea.factor;
    const Retuned after = retuned(asked, changed, promise);
    if (after.crossover_per_s > 0)
      out.push_back({text, after.crossover_per_s / before.crossover_per_s, after.peak_skew_m});
  }
  std::stable_sort(out.begin(), out.end(),
                   [](const auto& a, const auto& b) { return a.peak_skew_m < b.peak_skew_m; });
  return out;
}

}  // namespace

ForecastMove first_stroke(const ForecastMove& move, double period_s) {
  const std::vector<double>& v = move.reference.mean_m_per_s;
  double largest = 0;
  for (double x : v) largest = std::max(largest, std::abs(x));
  const auto moves = [&](size_t k) { return std::abs(v[k]) > 1e-3 * largest; };
  size_t k = 0;
  const auto rest = static_cast<size_t>(0.45 / period_s);
  while (k < v.size() && !moves(k)) ++k;
  while (k < v.size() && moves(k)) ++k;
  const size_t end = std::min(v.size(), k + rest);
  ForecastMove out = move;
  out.reference.mean_m.resize(end), out.reference.mean_m_per_s.resize(end), out.reference.mean_m_per_s2.resize(end);
  out.file_time_s.clear();
  return out;
}

Settings scaled(Settings s, double k, bool filters) {
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    c->velocity_gain_n_s_per_m *= k, c->position_gain_per_s *= k, c->velocity_integral_s /= k;
    if (!filters) continue;
    const double top = 0.4 / s.period_s;
    c->velocity_filter_hz = std::min(top, c->velocity_filter_hz * k);
    for (machine::Biquad& f : c->filters) f.hz = std::min(top / 2, f.hz * k);
  }
  return s;
}

Explanation explain(const ForecastMove& move, const Identified& id, const machine::Machine& machine,
                    const Proposal& p) {
  Asked asked{.id = id, .p = p, .move = first_stroke(move, p.settings.period_s)};
  const machine::CarriageRange range = machine::carriage_range(machine);
  const double full = std::max(machine.payload_min_kg, machine.payload_max_kg.value_or(0));
  asked.cases = {
      {range.min_y_m, machine.payload_min_kg}, {0.5 * (range.min_y_m + range.max_y_m), full}, {range.max_y_m, full}};
  Explanation out{.move = move.name};
  out.peak_skew_m = asked.skew(id.plant, p.settings, true);
  out.sensitivity = asked.sensitivity(asked.plants(id.plant), p.settings);
  out.costs = setting_costs(asked, out.sensitivity);
  out.limit = limiting_resonance(asked, p.worst.at_hz);
  out.changes = mechanical_changes(asked, out.sensitivity, out.textbook_peak_skew_m);
  return out;
}

}  // namespace evenbeam::tuning
