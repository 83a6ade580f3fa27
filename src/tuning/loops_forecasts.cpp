#include "tuning/loops_forecasts.h"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>

namespace evenbeam::tuning {
namespace {

using identification::Identified;
using machine::Machine;
using machine::Settings;
using recording::Recording;

// What each change buys, each on top of those before it.
void add_steps(std::vector<base::Row>& rows, const ForecastMove& move, const Identified& id, const Proposal& p,
               const Settings& own, const ForecastOptions& options) {
  std::vector<std::string> names;
  std::vector<Settings> all;
  const auto add = [&](const std::string& step, const Settings& settings) {
    names.push_back(step), all.push_back(settings);
  };
  Settings s = own;
  add("as recorded", s);
  s.share = share_at_place(p.share, move.carriage_y_m);
  s.mass_ff_kg = p.settings.mass_ff_kg;
  add("share and mass feed-forward", s);
  s.coulomb_ff_a_n = p.settings.coulomb_ff_a_n, s.coulomb_ff_b_n = p.settings.coulomb_ff_b_n;
  s.viscous_ff_a_n_s_per_m = p.settings.viscous_ff_a_n_s_per_m;
  s.viscous_ff_b_n_s_per_m = p.settings.viscous_ff_b_n_s_per_m;
  s.coulomb_ramp_m_per_s = p.settings.coulomb_ramp_m_per_s;
  add("friction feed-forward of each side", s);
  add("textbook gains", at_place(p, p.textbook, move.carriage_y_m));
  if (p.searched) add("gains and filters searched", at_place(p, p.settings, move.carriage_y_m));
  const std::vector<double> peaks = peak_skews(move, std::vector(all.size(), id.plant), all, options);
  for (size_t k = 0; k < all.size(); ++k)
    rows.push_back({{"move", move.name}, {"step", names[k]}, {"peak_skew_m", peaks[k]}});
}

void add_proposed(Forecasts& out, const ForecastMove& move, const Identified& id, const Proposal& p,
                  const ForecastOptions& options) {
  out.proposed.push_back(forecast(move, id, at_place(p, p.settings, move.carriage_y_m), options));
  double known = std::numeric_limits<double>::quiet_NaN();
  if (move.payload_kg > p.share.payload_least_kg && p.share.follows) {
    Settings s = p.settings;
    s.share = share_at_place(p.share, move.carriage_y_m, move.payload_kg);
    known = peak_skews(move, {id.plant}, {s}, options).front();
  }
  out.payload_known_m.push_back(known);
}

// How well the carriage's place must be known for a share that follows it.
void add_place_errors(Forecasts& out, const ForecastMove& move, const Identified& id, const Proposal& p,
                      const ForecastOptions& options) {
  constexpr double kOff_m[] = {0.05, 0.1, 0.2, 0.4};
  std::vector<Settings> all;
  for (double off_m : kOff_m)
    for (double sign : {-1.0, 1.0}) all.push_back(at_place(p, p.settings, move.carriage_y_m + sign * off_m));
  const std::vector<double> peaks = peak_skews(move, std::vector(all.size(), id.plant), all, options);
  out.place_move = move.name;
  for (size_t k = 0; k < std::size(kOff_m); ++k)
    out.place_errors.push_back({kOff_m[k], std::max(peaks[2 * k], peaks[2 * k + 1])});
}

Settings recorded_with(const Recording& r, const Machine& machine, double period_s) {
  Settings own = *r.loops;
  if (!(own.period_s > 0)) own.period_s = period_s;
  if (!(own.peak_force_a_n > 0)) own.peak_force_a_n = machine.a.peak_force_n.value_or(1e9);
  if (!(own.peak_force_b_n > 0)) own.peak_force_b_n = machine.b.peak_force_n.value_or(1e9);
  return own;
}

void add_recorded(Forecasts& out, const Recording& r, const Machine& machine, const Identified& id, const Proposal& p,
                  double period_s) {
  const ForecastMove move = move_of(r, machine, period_s);
  const ForecastOptions options = forecast_options(&r, machine);
  if (p.found) {
    add_proposed(out, move, id, p, options);
    Settings constant = p.settings;
    constant.share = p.share.constant;
    out.worst_constant_m = std::max(out.worst_constant_m, peak_skews(move, {id.plant}, {constant}, options).front());
    if (out.place_errors.empty() && p.share.follows) add_place_errors(out, move, id, p, options);
  }
  if (!r.loops) return;
  const Settings own = recorded_with(r, machine, period_s);
  if (own.period_s != period_s) return;
  out.own.push_back(forecast(move, id, own, options));
  if (p.found) add_steps(out.steps, move, id, p, own, options);
}

}  // namespace

bool is_test_move(const Recording& r) {
  return r.kind == recording::RunKind::test_move && has_references(r) && has_positions(r);
}

ForecastOptions forecast_options(const Recording* r, const Machine& machine) {
  ForecastOptions o;
  o.count_a_m = machine.a.count_m.value_or(r != nullptr ? r->count_a_m : 0);
  o.count_b_m = machine.b.count_m.value_or(r != nullptr ? r->count_b_m : 0);
  o.settle_window_m =
      machine.limits.settle_window_m.value_or(std::max(10e-6, 5 * std::max(o.count_a_m, o.count_b_m)));
  return o;
}

Forecasts forecasts(const std::vector<Recording>& recordings, const Machine& machine, const Identified& id,
                    const Proposal& p) {
  Forecasts out;
  const double period_s = machine.servo_period_s.value_or(0);
  for (const Recording& r : recordings)
    if (is_test_move(r) && period_s > 0) add_recorded(out, r, machine, id, p, period_s);
  for (const machine::PlannedMove& planned : machine.moves)
    if (p.found) add_proposed(out, move_of(planned, machine, period_s), id, p, forecast_options(nullptr, machine));
  return out;
}

}  // namespace evenbeam::tuning
