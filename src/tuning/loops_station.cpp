#include "tuning/loops_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "tuning/loops_figures.h"

namespace evenbeam::tuning {
namespace {

using base::Finding;
using base::Value;
using base::Verdict;
using recording::Recording;

constexpr double kPromise = 1.7;

struct Forecasts {
  std::vector<MoveForecast> proposed, own;
  double worst_constant_m = 0;  // largest peak of the recorded moves with the one constant share
  std::vector<base::Row> steps;
};

bool is_test_move(const Recording& r) {
  return r.kind == recording::RunKind::test_move && has_references(r) && has_positions(r);
}

ForecastOptions options_for(const Recording* r, const machine::Machine& machine) {
  ForecastOptions o;
  o.count_a_m = machine.a.count_m.value_or(r != nullptr ? r->count_a_m : 0);
  o.count_b_m = machine.b.count_m.value_or(r != nullptr ? r->count_b_m : 0);
  o.settle_window_m =
      machine.limits.settle_window_m.value_or(std::max(10e-6, 5 * std::max(o.count_a_m, o.count_b_m)));
  return o;
}

// What each change buys, cheapest first, each on top of those before it.
void add_steps(std::vector<base::Row>& rows, const ForecastMove& move, const identification::Identified& id,
               const Proposal& p, const machine::Settings& own, ForecastOptions options) {
  options.draws = 0;
  const auto add = [&](const std::string& step, const machine::Settings& s) {
    rows.push_back(
        {{"move", move.name}, {"step", step}, {"peak_skew_m", forecast(move, id, s, options).peak_skew_m}});
  };
  machine::Settings s = own;
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
}

Forecasts forecasts(const std::vector<Recording>& recordings, const machine::Machine& machine,
                    const identification::Identified& id, const Proposal& p) {
  Forecasts out;
  const double period_s = machine.servo_period_s.value_or(0);
  for (const Recording& r : recordings) {
    if (!is_test_move(r) || !(period_s > 0)) continue;
    const ForecastMove move = move_of(r, machine, period_s);
    if (p.found) {
      out.proposed.push_back(
          forecast(move, id, at_place(p, p.settings, move.carriage_y_m), options_for(&r, machine)));
      machine::Settings constant = p.settings;
      constant.share = p.share.constant;
      ForecastOptions bare = options_for(&r, machine);
      bare.draws = 0;
      out.worst_constant_m = std::max(out.worst_constant_m, forecast(move, id, constant, bare).peak_skew_m);
    }
    if (!r.loops) continue;
    machine::Settings own = *r.loops;
    if (!(own.period_s > 0)) own.period_s = period_s;
    if (!(own.peak_force_a_n > 0)) own.peak_force_a_n = machine.a.peak_force_n.value_or(1e9);
    if (!(own.peak_force_b_n > 0)) own.peak_force_b_n = machine.b.peak_force_n.value_or(1e9);
    if (own.period_s != period_s) continue;
    out.own.push_back(forecast(move, id, own, options_for(&r, machine)));
    if (p.found) add_steps(out.steps, move, id, p, own, options_for(&r, machine));
  }
  for (const machine::PlannedMove& planned : machine.moves) {
    if (!p.found) continue;
    const ForecastMove move = move_of(planned, machine, period_s);
    out.proposed.push_back(
        forecast(move, id, at_place(p, p.settings, move.carriage_y_m), options_for(nullptr, machine)));
  }
  return out;
}

void put(base::StationResult& r, const std::string& key, double value, const std::string& unit) {
  r.values.emplace_back(key, Value{.value = value, .unit = unit});
}

void put_coordinate(base::StationResult& r, const std::string& prefix, const machine::CoordinateLoop& c) {
  put(r, prefix + "position_gain_per_s", c.position_gain_per_s, "1/s");
  put(r, prefix + "velocity_gain_n_s_per_m", c.velocity_gain_n_s_per_m, "N*s/m");
  put(r, prefix + "velocity_integral_s", c.velocity_integral_s, "s");
  put(r, prefix + "velocity_filter_hz", c.velocity_filter_hz, "Hz");
  std::vector<base::Row> rows;
  for (const machine::Biquad& f : c.filters) rows.push_back({{"hz", f.hz}, {"zn", f.zn}, {"zd", f.zd}});
  r.values.emplace_back(prefix + "filters", Value{.value = rows});
}

std::vector<base::Row> forecast_rows(const std::vector<MoveForecast>& list) {
  std::vector<base::Row> rows;
  for (const MoveForecast& f : list) {
    base::Row row{{"move", f.name}, {"peak_skew_m", f.peak_skew_m}, {"lower", f.lower_m}, {"upper", f.upper_m}};
    if (std::isfinite(f.settle_s))
      row.emplace_back("settle_s", f.settle_s);
    else
      row.emplace_back("settle_s", std::string("unknown"));
    rows.push_back(row);
  }
  return rows;
}

Value share_value(const Proposal& p) {
  if (!p.share.follows) return {.value = p.share.constant, .unit = "1"};
  std::vector<base::Row> rows;
  for (const SharePlace& place : p.share.places)
    rows.push_back({{"y_m", place.y_m}, {"share", place.share}, {"share_full_payload", place.share_full}});
  return {.value = rows, .unit = "1"};
}

void put_values(base::StationResult& r, const Proposal& p, const Forecasts& f) {
  const machine::Settings& s = p.settings;
  r.values.emplace_back("share", share_value(p));
  put_coordinate(r, "mean_", s.mean);
  put_coordinate(r, "skew_", s.skew);
  put(r, "mass_ff_kg", s.mass_ff_kg, "kg");
  put(r, "skew_ff_kg", s.skew_ff_kg, "kg");
  put(r, "coulomb_ff_a_n", s.coulomb_ff_a_n, "N");
  put(r, "coulomb_ff_b_n", s.coulomb_ff_b_n, "N");
  put(r, "viscous_ff_a_n_s_per_m", s.viscous_ff_a_n_s_per_m, "N*s/m");
  put(r, "viscous_ff_b_n_s_per_m", s.viscous_ff_b_n_s_per_m, "N*s/m");
  put(r, "peak_sensitivity", std::max(p.worst.peak, p.measured.peak), "1");
  put(r, "offset_a_n", s.offset_a_n, "N");
  put(r, "offset_b_n", s.offset_b_n, "N");
  put(r, "coulomb_ramp_m_per_s", s.coulomb_ramp_m_per_s, "m/s");
  put(r, "period_s", s.period_s, "s");
  r.values.emplace_back("forecast", Value{.value = forecast_rows(f.proposed), .unit = "m"});
  r.values.emplace_back("steps", Value{.value = f.steps, .unit = "m"});
  put(r, "share_constant", p.share.constant, "1");
}

void cite(Finding& f, const identification::Identified& id) {
  const bool response = !id.response_recordings.empty();
  for (const auto& use : id.motion.recordings)
    if (f.recording.empty() || (response && use.name == id.response_recordings.front())) {
      f.recording = use.name;
      f.from_s = use.from_s;
      f.to_s = use.to_s;
    }
}

Finding robustness(const identification::Identified& id, const Proposal& p) {
  Finding f{.id = "peak_sensitivity", .unit = "1", .limit = kPromise};
  cite(f, id);
  f.source = "at most 1.7 wanted; textbook range 1.2 to 2 (Astrom and Murray, from memory)";
  f.value = std::max(p.worst.peak, p.measured.peak);
  const double m = *f.value;
  f.verdict = m <= kPromise ? Verdict::pass : Verdict::stop;
  f.text = fmt::format(
      "Over {} carriage places and payloads the largest singular value of the sensitivity is {:.2f} (at {:.0f} Hz) "
      "on the "
      "fitted plant{}: every side keeps a gain margin of at least {:.1f} and a phase margin of at least {:.0f} "
      "degrees. "
      "Between the places looked at nothing is proved.",
      p.cases.size(), p.worst.peak, p.worst.at_hz,
      p.measured.peak > 0 ? fmt::format(" and {:.2f} on the measured response", p.measured.peak)
                          : "; no response was measured",
      m / (m - 1), 2 * std::asin(1 / (2 * m)) * 180 / std::numbers::pi);
  if (p.measured.peak == 0) {
    f.verdict = base::worse(f.verdict, Verdict::attention);
    f.next =
        "Record a multisine on A, then on B: without a measured response drive resonances are not in the margins.";
  }
  return f;
}

Finding share_finding(const machine::Machine& machine, const identification::Identified& id, const Proposal& p,
                      const Forecasts& forecast) {
  const SharePlace &first = p.share.places.front(), &last = p.share.places.back();
  Finding f{.id = "share",
            .verdict = Verdict::pass,
            .value = p.share.follows ? p.settings.share : p.share.constant,
            .unit = "1"};
  cite(f, id);
  f.text = fmt::format(
      "The share of A that makes no yaw runs from {:.4f} (carriage at {:.2f} m) to {:.4f} (at {:.2f} m), in "
      "commanded "
      "newtons, without payload; the least wrong constant is {:.4f}, up to {:.4f} off.",
      first.share, first.y_m, last.share, last.y_m, p.share.constant, p.share.constant_wrong);
  double with_list = 0;
  for (const MoveForecast& m : forecast.proposed) with_list = std::max(with_list, m.peak_skew_m);
  if (p.share.follows && forecast.worst_constant_m > 0)
    f.text += fmt::format(
        " Largest skew to expect in the moves known: {:.1f} um with the share of each place, {:.1f} "
        "um with the constant.",
        1e6 * with_list, 1e6 * forecast.worst_constant_m);
  f.source = "balance of moments under acceleration, share = 1/2 - S/(M L)";
  if (p.share.follows && !machine.share_follows_carriage)
    f.next =
        "Enter the share of the place where the carriage stands, or let the controller follow it. If only one can be "
        "entered for all places, state share_follows_carriage = false.";
  return f;
}

Finding gains_finding(const identification::Identified& id, const Proposal& p) {
  Finding f{.id = "gains", .verdict = Verdict::pass};
  cite(f, id);
  f.text = fmt::format(
      "Gains by the symmetrical optimum with small lags of {:.2f} ms, stretched {:.1f} (mean) and {:.1f} times "
      "(skew) until "
      "the promise holds{}; what stops them from being higher: {}. Both loops' gains times 0.6 and 1.6 stay stable "
      "at "
      "every place and payload looked at.",
      1e3 * p.small_lag_s, p.stretch_mean, p.stretch_skew,
      p.searched ? fmt::format(", then searched with two filters a loop: output noise from counts {:.1f} N rms",
                               p.after.noise_n)
                 : "; a search found nothing better that holds",
      p.binding);
  f.source = "Kessler 1958, symmetrical optimum (from memory)";
  f.value = p.stretch_mean;
  f.unit = "1";
  f.next =
      "Enter the settings, then raise from half gain in two steps, each with a short move and a hand on the stop.";
  return f;
}

Finding forecast_finding(const std::vector<Recording>& recordings, const Forecasts& f) {
  Finding out{.id = "forecast", .unit = "m"};
  if (f.proposed.empty()) {
    out.verdict = Verdict::attention;
    out.text = "No move is known to forecast: neither a recorded test move nor a [[move]] in machine.toml.";
    out.next = "Describe the machine's own moves in machine.toml.";
    return out;
  }
  const auto worst = std::max_element(f.proposed.begin(), f.proposed.end(),
                                      [](const auto& a, const auto& b) { return a.peak_skew_m < b.peak_skew_m; });
  out.verdict = Verdict::pass;
  out.value = worst->peak_skew_m;
  out.lower = worst->lower_m;
  out.upper = worst->upper_m;
  out.recording = worst->name;
  for (const Recording& r : recordings)
    if (r.name == worst->name) out.from_s = r.time_s.front(), out.to_s = r.time_s.back();
  out.text =
      fmt::format("With these settings the largest skew error to expect is {:.1f} um ({:.1f} to {:.1f}), in {}.",
                  1e6 * worst->peak_skew_m, 1e6 * worst->lower_m, 1e6 * worst->upper_m, worst->name);
  out.source = "virtual gantry with the fitted plant; cogging and pitch errors are not in it";
  out.next = "Make the move with these settings and record it; station prove compares.";
  return out;
}

}  // namespace

LoopsOutcome loops_station(const std::vector<Recording>& recordings, const machine::Machine& machine,
                           const identification::Identified& id) {
  LoopsOutcome out;
  out.outcome.result.name = "loops";
  out.proposal = propose(id, machine);
  const Proposal& p = out.proposal;
  auto& findings = out.outcome.result.findings;
  Forecasts f;
  if (id.plant_known) f = forecasts(recordings, machine, id, p);
  out.own_loops = f.own;
  if (!p.found) {
    findings.push_back({.id = "no_settings",
                        .verdict = id.plant_known ? Verdict::attention : Verdict::not_done,
                        .text = "No settings are proposed: " + p.reason + ".",
                        .next = id.plant_known ? "State what is missing, or stiffen what resonates."
                                               : "Record a test move there and back with positions and outputs."});
    cite(findings.back(), id);
    out.outcome.result.verdict = base::overall(findings);
    return out;
  }
  put_values(out.outcome.result, p, f);
  findings = {robustness(id, p), share_finding(machine, id, p, f), gains_finding(id, p),
              forecast_finding(recordings, f)};
  out.outcome.figures = {share_figure(machine, id, p), sensitivity_figure(id, machine, p)};
  out.outcome.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::tuning
