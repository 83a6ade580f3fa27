// Brakes and force at enable and disable, by the delays that are set, and what goes wrong where a side is free.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "readiness/enable_forecast.h"
#include "readiness/gravity.h"
#include "readiness/ready_station.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;
using machine::Machine;

// A fall of the axis that nobody minds (common practice, no source).
constexpr double fall_taken_m = 0.1e-3;

std::string shown(double value, const char* unit, const Machine& m) {
  return units::print_quantity(value, unit, units::shown_unit(unit, m.length_unit, m.force_unit), 3);
}

struct Occasion {
  const char *id, *word, *wanted;  // wanted: what would leave no gap
  std::optional<double> a_s, b_s;
};

struct Case {
  const Machine& m;
  const FreeBridge bridge;
  const GravityLoad load;
  double standing_m = 0;
  std::string standing_from;
  std::optional<double> skew_limit_m;
};

struct Forecast {
  std::vector<std::string> words;
  bool falls = false, gives = false, racks = false, unknown = false;  // gives: falls a little
  double largest_m = 0;
};

void forecast_fall(const Case& c, double gap_s, Forecast& f) {
  if (!c.bridge.tilt_rad) {
    f.words.push_back("how far it falls is unknown until the axis' tilt is on the sheet");
    f.unknown = true;
    return;
  }
  const double fall = fall_m(c.bridge, c.load.both_n, gap_s);
  if (!std::isfinite(fall)) {
    f.words.push_back("how far it falls is unknown without the masses");
    f.unknown = c.load.both_n > 0;
    return;
  }
  f.falls = fall > fall_taken_m, f.gives = fall > 0;
  f.largest_m = std::max(f.largest_m, fall);
  f.words.push_back(fall > 0 ? fmt::format("the axis falls by {}", shown(fall, "m", c.m))
                             : std::string("friction, or the level, keeps the axis where it is"));
}

// One side free for longer than the other.
void forecast_racking(const Case& c, double a_s, double b_s, Forecast& f) {
  const double alone_s = std::abs(a_s - b_s);
  const bool free_a = a_s > b_s;
  if (!(alone_s > 0) || !c.bridge.tilt_rad) return;
  const auto inertia = inertia_about_end_kg_m2(c.m, free_a);
  if (!inertia) return;
  const double s = racked_m(c.bridge.span_m, free_a ? c.load.a_n : c.load.b_n,
                            free_a ? c.bridge.friction_a_n : c.bridge.friction_b_n, *inertia, alone_s);
  if (!(s > 0)) return;
  f.racks = f.racks || !c.skew_limit_m || s > *c.skew_limit_m, f.largest_m = std::max(f.largest_m, s);
  f.words.push_back(fmt::format("{} alone is free for {:.3g} ms of it and racks the bridge by {}, guides not counted",
                                free_a ? "A" : "B", 1e3 * alone_s, shown(s, "m", c.m)));
}

void forecast_release(const Case& c, double gap_s, Forecast& f) {
  const auto released = released_m(c.bridge, c.standing_m, gap_s);
  if (!released) return;
  if (!(c.standing_m > 0)) return;
  f.racks = f.racks || (c.skew_limit_m && *released > *c.skew_limit_m),
  f.largest_m = std::max(f.largest_m, *released);
  f.words.push_back(fmt::format("of a skew of {} ({}) up to {} lets go", shown(c.standing_m, "m", c.m),
                                c.standing_from, shown(*released, "m", c.m)));
}

Finding order(const Occasion& o, const Case& c) {
  Finding f{.id = o.id, .verdict = Verdict::pass, .unit = "s", .limit = 0.0};
  const double a = o.a_s.value_or(0), b = o.b_s.value_or(0), gap = std::max(a, b);
  f.value = gap;
  f.source = fmt::format("delays of machine.toml; (W - r)/M t^2/2, docs/equations.md; {}", c.bridge.friction_from);
  if (!(gap > 0)) {
    f.text = fmt::format("At {} each side is held by force or brake all the time, by the delays stated.", o.word);
    return f;
  }
  Forecast forecast;
  forecast_fall(c, gap, forecast);
  forecast_racking(c, a, b, forecast);
  forecast_release(c, gap, forecast);
  f.text = fmt::format("At {} nothing holds A for {:.3g} ms and B for {:.3g} ms: {}.", o.word, 1e3 * a, 1e3 * b,
                       fmt::join(forecast.words, "; "));
  // An axis that comes down, or nobody knows, must not be switched; a little skew that lets go is to be known.
  f.verdict = forecast.falls || forecast.racks     ? Verdict::stop
              : forecast.unknown || forecast.gives ? Verdict::attention
                                                   : Verdict::pass;
  if (f.verdict != Verdict::pass) f.next = o.wanted;
  return f;
}

std::optional<Finding> not_known(const Machine& m) {
  std::vector<std::string> keys;
  const auto lacks = [&](const char* key, const std::optional<double>& a, const std::optional<double>& b) {
    if (!a || !b) keys.emplace_back(key);
  };
  lacks("force_ready_time", m.enable_a.force_ready_s, m.enable_b.force_ready_s);
  lacks("brake_open_delay", m.enable_a.brake_open_delay_s, m.enable_b.brake_open_delay_s);
  lacks("force_off_delay", m.enable_a.force_off_delay_s, m.enable_b.force_off_delay_s);
  lacks("brake_release_time", m.brake_a.release_s, m.brake_b.release_s);
  lacks("brake_close_time", m.brake_a.close_s, m.brake_b.close_s);
  if (keys.empty()) return std::nullopt;
  return Finding{
      .id = "enable_delays",
      .text = fmt::format("The order of brakes and force is not reckoned: machine.toml lacks {} of a side.",
                          fmt::join(keys, ", ")),
      .next = "Read the delays from the drives' or the controller's settings and write them into [side]."};
}

bool has_brake(const machine::Brake& b) { return b.hold_force_n || b.close_s || b.release_s; }

// The reference of before is kept: the loops step by what let go in between.
Finding kept_reference(const Case& c, const std::vector<recording::Recording>& recordings) {
  Finding f{.id = "kept_reference", .verdict = Verdict::attention, .value = c.standing_m, .unit = "m"};
  const auto most = released_at_most_m(c.bridge, c.standing_m);
  const double step = std::min(c.standing_m, most.value_or(c.standing_m));
  f.value = step;
  f.limit = 0.0;
  f.source = "machine.toml, takes_actual_position; Kp Kv e of the loop law";
  f.text = fmt::format(
      "At enable the position of before is kept. What moved in between is stepped to with full force: "
      "of a skew that lets go by {} ({})",
      shown(step, "m", c.m), c.standing_from);
  for (const recording::Recording& r : recordings) {
    if (!r.loops || !(r.loops->skew.velocity_gain_n_s_per_m > 0)) continue;
    const double force = r.loops->skew.position_gain_per_s * r.loops->skew.velocity_gain_n_s_per_m * step;
    const double peak = std::min(c.m.a.peak_force_n.value_or(r.loops->peak_force_a_n),
                                 c.m.b.peak_force_n.value_or(r.loops->peak_force_b_n));
    f.text += fmt::format(" the loops of {} make a first force of {} on A and its opposite on B", r.name,
                          shown(peak > 0 ? std::min(force, peak) : force, "N", c.m));
    if (peak > 0 && force >= peak) f.verdict = Verdict::stop, f.text += ", all that the drives have";
    f.text += ".";
    f.next =
        "Let the controller take over the actual position of both sides at enable; then check it with a capture.";
    return f;
  }
  f.text += "; how hard is unknown until a recording states its loops.";
  f.next = "Let the controller take over the actual position of both sides at enable; then check it with a capture.";
  return f;
}

}  // namespace

void add_enable_order(const Sheet& sheet, const Machine& m, const std::vector<recording::Recording>& recordings,
                      const Known& known, std::optional<double> released_m, base::StationResult& result) {
  const FreeBridge bridge = free_bridge(m, sheet, known);
  Case c{.m = m,
         .bridge = bridge,
         .load = bridge.tilt_rad ? gravity_load(m, *bridge.tilt_rad) : GravityLoad{},
         .standing_m = released_m.value_or(0),
         .standing_from = "as the captures show",
         .skew_limit_m = known.allowable_skew_m ? known.allowable_skew_m : m.guides.stated_skew_limit_m};
  if (!released_m && c.skew_limit_m) c.standing_m = *c.skew_limit_m, c.standing_from = "the most that may stand";
  if (m.takes_actual_position == false) result.findings.push_back(kept_reference(c, recordings));
  if (!has_brake(m.brake_a) && !has_brake(m.brake_b)) return;
  const Occasion enable{"enable_order", "enable",
                        "Open the brakes later: brake_open_delay + brake_release_time over force_ready_time, both "
                        "sides; stand clear until then.",
                        free_at_enable_s(m.enable_a, m.brake_a), free_at_enable_s(m.enable_b, m.brake_b)};
  const Occasion disable{"disable_order", "disable",
                         "Keep force longer: force_off_delay over brake_close_time, both sides; stand clear until "
                         "then.",
                         free_at_disable_s(m.enable_a, m.brake_a), free_at_disable_s(m.enable_b, m.brake_b)};
  std::vector<base::Row> rows;
  for (const Occasion& o : {enable, disable}) {
    if (!o.a_s && !o.b_s) continue;
    result.findings.push_back(order(o, c));
    rows.push_back({{"at", o.word},
                    {"free_a_s", o.a_s ? base::Cell(*o.a_s) : base::Cell("unknown")},
                    {"free_b_s", o.b_s ? base::Cell(*o.b_s) : base::Cell("unknown")}});
  }
  if (!rows.empty()) result.values.emplace_back("enable_order", base::Value{.value = std::move(rows)});
  if (auto lacking = not_known(m)) result.findings.push_back(std::move(*lacking));
}

}  // namespace evenbeam::readiness
