#include "protection/bound.h"

#include <algorithm>
#include <cmath>
#include <queue>

namespace evenbeam::protection {
namespace {

constexpr double kLeastStray = 1.1, kMostStray = 4;
constexpr double kSeenFrom_s = 1e-3;  // how closely the border is found from which a fault is not seen any more

struct Sample {
  double time_s = 0;
  FaultOutcome out;
};

// sqrt(2E) of the difference, what the outputs' dying tails may add to it included.
double distance(const EventModel& m, const State& p, const State& q) {
  State d{};
  for (size_t i = 0; i < state_size; ++i) d[i] = p[i] - q[i];
  const double det = m.w_aa_kg * m.w_bb_kg - m.w_ab_kg * m.w_ab_kg;
  const double tail =
      (m.w_bb_kg * d[f_a] * d[f_a] - 2 * m.w_ab_kg * d[f_a] * d[f_b] + m.w_aa_kg * d[f_b] * d[f_b]) / det;
  return std::sqrt(2 * energy_j(m, d)) + m.lag_s * std::sqrt(std::max(0.0, tail));
}
double apart(const EventModel& m, const Sample& a, const Sample& b) {
  return std::max(distance(m, a.out.at_reaction, b.out.at_reaction), distance(m, a.out.at_fault, b.out.at_fault));
}

struct Interval {
  double bound = 0, stray = kLeastStray;
  const OrdinaryMove* place = nullptr;
  Scenario scenario;
  Sample from, to;
  bool operator<(const Interval& other) const { return bound < other.bound; }
};

void set_bound(Interval& i) {
  const EventModel& m = i.place->model;
  const double a = i.from.out.peak_skew_m, b = i.to.out.peak_skew_m;
  if (!i.from.out.seen || !i.to.out.seen) {
    i.bound = i.to.time_s - i.from.time_s > kSeenFrom_s ? never_s : std::max(a, b);
    return;
  }
  const double reach = i.stray * apart(m, i.from, i.to) / std::sqrt(m.stiffness_n_per_m) / 2;
  i.bound = std::max({(a + b) / 2 + reach, a, b});
}

struct Search {
  std::priority_queue<Interval> open;
  double best = 0;
  int runs = 0;
};

Sample sample(Search& s, const OrdinaryMove& place, Scenario scenario, double t) {
  scenario.fault_s = t;
  ++s.runs;
  Sample out{t, run_fault(place, scenario)};
  s.best = std::max(s.best, out.out.peak_skew_m);
  return out;
}

void open_up(Search& s, const OrdinaryMove& place, const Scenario& scenario) {
  Sample before = sample(s, place, scenario, place.borders_s.front());
  for (double t : instants(place)) {
    if (t <= before.time_s) continue;
    Sample now = sample(s, place, scenario, t);
    Interval i{.place = &place, .scenario = scenario, .from = before, .to = now};
    set_bound(i);
    s.open.push(i);
    before = std::move(now);
  }
}

void halve(Search& s) {
  const Interval wide = s.open.top();
  s.open.pop();
  Interval left = wide, right = wide;
  left.to = right.from = sample(s, *wide.place, wide.scenario, (wide.from.time_s + wide.to.time_s) / 2);
  const EventModel& m = wide.place->model;
  const double whole = apart(m, wide.from, wide.to);
  const double farther = std::max(apart(m, wide.from, left.to), apart(m, right.from, wide.to));
  if (whole > 0) left.stray = right.stray = std::clamp(kLeastStray * farther / (whole / 2), kLeastStray, kMostStray);
  set_bound(left);
  set_bound(right);
  s.open.push(left);
  s.open.push(right);
}

}  // namespace

Bound bound_between(const std::vector<const OrdinaryMove*>& places, const Worst& worst, const SearchOptions& options,
                    double slack, int most_runs) {
  Bound out;
  const bool outputs_off = stop_category(worst.reaction) == 0 || power_is_gone(worst.fault);
  if (worst.place == nullptr || !outputs_off || worst.fault == FaultKind::carriage_thrown) return out;
  Search s{.open = {}, .best = worst.peak_skew_m};
  for (const OrdinaryMove* place : places)
    for (const Scenario& scenario : variants(worst.fault, worst.reaction, options)) open_up(s, *place, scenario);
  while (!s.open.empty() && s.runs < most_runs && s.open.top().bound > s.best * (1 + slack)) halve(s);
  out.runs = s.runs;
  out.peak_skew_m = s.open.empty() ? s.best : std::max(s.best, s.open.top().bound);
  out.bounded = std::isfinite(out.peak_skew_m);
  for (; !s.open.empty(); s.open.pop())
    out.widest_s = std::max(out.widest_s, s.open.top().to.time_s - s.open.top().from.time_s);
  return out;
}

}  // namespace evenbeam::protection
