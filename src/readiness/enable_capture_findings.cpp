// What captures of servo-off and servo-on show, held against what guides and work take.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "readiness/enable_capture.h"
#include "readiness/ready_station.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;
using machine::Machine;

// Both drives come and go within this (common practice, no source).
constexpr double together_s = 5e-3;
// Largest sag while brakes take over, and largest motion at enable, where no settle window is stated (common
// practice, no source).
constexpr double motion_else_m = 0.1e-3;

std::string shown(double value, const char* unit, const Machine& m) {
  return units::print_quantity(value, unit, units::shown_unit(unit, m.length_unit, m.force_unit), 3);
}

std::string slug(const std::string& name) {
  std::string out;
  for (const char c : name.substr(0, name.rfind('.')))
    out += std::isalnum(static_cast<unsigned char>(c)) ? char(std::tolower(static_cast<unsigned char>(c))) : '_';
  return out;
}

Finding start(const EnableCapture& c, const char* id, double from_s, double to_s) {
  Finding f{.id = fmt::format("{}_{}", id, slug(c.recording->name)), .verdict = Verdict::pass};
  f.recording = c.recording->name, f.from_s = from_s, f.to_s = to_s;
  return f;
}

struct SkewLimit {
  std::optional<double> m;
  std::string source;
};
SkewLimit skew_limit(const Machine& m, const Known& known) {
  if (known.allowable_skew_m) return {known.allowable_skew_m, "allowable_skew_m of station limits"};
  if (m.guides.stated_skew_limit_m) return {m.guides.stated_skew_limit_m, "machine.toml, stated_skew_limit"};
  return {std::nullopt, "no limit of the skew is known"};
}

// Within the limit passes, beyond it wants attention; without one nothing is said to be good.
void hold_against(Finding& f, double size, const SkewLimit& limit, const char* next) {
  f.limit = limit.m;
  f.source = limit.source;
  if (limit.m && size <= *limit.m) return;
  f.verdict = Verdict::attention;
  f.next = limit.m ? next : "State stated_skew_limit or the guides' ratings in machine.toml.";
}

Finding released(const EnableCapture& c, const Machine& m, const SkewLimit& limit) {
  const ServoOff& off = *c.off;
  Finding f = start(c, "skew_released", off.at_s, off.until_s);
  f.value = off.released_m, f.unit = "m";
  f.lower = off.released_m - c.doubt_m, f.upper = off.released_m + c.doubt_m;
  f.text = fmt::format(
      "At servo-off the skew lets go by {} (at most {} on the way); the loops had held a fight of {} "
      "until then.",
      shown(off.released_m, "m", m), shown(off.largest_m, "m", m), shown(off.fight_before_n, "N", m));
  hold_against(f, std::max(std::abs(off.released_m), std::abs(off.largest_m)) + c.doubt_m, limit,
               "Home it to the attitude in which the guides are free (station marks), so that the loops hold no skew "
               "that lets go; keep hands away from both ends at every switch-off until then.");
  return f;
}

Finding sag(const EnableCapture& c, const Machine& m) {
  const ServoOff& off = *c.off;
  Finding f = start(c, "sag", off.at_s, off.until_s);
  f.value = off.sag_m, f.unit = "m";
  f.limit = std::max(m.limits.settle_window_m.value_or(0), motion_else_m);
  f.source = m.limits.settle_window_m > motion_else_m ? "machine.toml, settle_window" : no_source;
  f.text = fmt::format("At servo-off the axis moves by {} along x; the loops had held {} until then.",
                       shown(off.sag_m, "m", m), shown(off.sum_before_n, "N", m));
  if (std::abs(off.sag_m) > *f.limit + c.doubt_m) {
    f.verdict = Verdict::attention;
    f.next =
        "Keep force until the brakes hold (force_off_delay over brake_close_time), and prop the axis until then.";
  }
  return f;
}

Finding together(const EnableCapture& c, const char* id, const char* word, double a_s, double b_s) {
  Finding f = start(c, id, std::min(a_s, b_s), std::max(a_s, b_s));
  f.value = std::abs(a_s - b_s), f.unit = "s", f.limit = together_s, f.source = no_source;
  f.text = fmt::format("The outputs of A and B {} {:.3g} ms apart.", word, 1e3 * *f.value);
  if (*f.value > together_s + c.recording->period_s) {
    f.verdict = Verdict::attention;
    f.next = "One enable for both drives: one side that holds alone is racked by whatever moves the other.";
  }
  return f;
}

Finding take_over(const EnableCapture& c, const Machine& m, const SkewLimit& limit) {
  const ServoOn& on = *c.on;
  Finding f = start(c, "take_over", on.at_s, on.at_s + 0.1);
  f.unit = "m";
  f.limit = std::max(m.limits.settle_window_m.value_or(0), motion_else_m);
  f.source = m.limits.settle_window_m > motion_else_m ? "machine.toml, settle_window" : no_source;
  const double moved = std::max(std::abs(on.moved_mean_m), std::abs(on.moved_skew_m));
  const bool known = on.jump_mean_m && on.jump_skew_m;
  const double jump = known ? std::max(std::abs(*on.jump_mean_m), std::abs(*on.jump_skew_m)) : 0;
  f.value = known ? std::max(jump, moved) : moved;
  f.text = known ? fmt::format("At servo-on the reference stands {} (mean) and {} (skew) off the actual position",  //
                               shown(*on.jump_mean_m, "m", m), shown(*on.jump_skew_m, "m", m))
                 : std::string("References are not on record; at servo-on");
  f.text += fmt::format("{} the outputs jump by {} on A, {} on B, and the bridge moves by {} (mean), {} (skew).",
                        known ? ";" : "", shown(on.kick_a_n, "N", m), shown(on.kick_b_n, "N", m),
                        shown(on.moved_mean_m, "m", m), shown(on.moved_skew_m, "m", m));
  if (*f.value <= *f.limit + c.doubt_m) return f;
  f.verdict =
      limit.m && std::abs(on.jump_skew_m.value_or(on.moved_skew_m)) > *limit.m ? Verdict::stop : Verdict::attention;
  f.next = "Let the controller take over the actual position of both sides at enable, in the same cycle.";
  return f;
}

base::Row row_of(const EnableCapture& c) {
  const auto cell = [](const std::optional<double>& x) { return x ? base::Cell(*x) : base::Cell("unknown"); };
  const auto off = [&](double ServoOff::*field) { return c.off ? base::Cell((*c.off).*field) : base::Cell("-"); };
  const auto on = [&](double ServoOn::*field) { return c.on ? base::Cell((*c.on).*field) : base::Cell("-"); };
  return {{"recording", c.recording->name},
          {"released_skew_m", off(&ServoOff::released_m)},
          {"largest_skew_m", off(&ServoOff::largest_m)},
          {"sag_m", off(&ServoOff::sag_m)},
          {"fight_before_n", off(&ServoOff::fight_before_n)},
          {"jump_mean_m", c.on ? cell(c.on->jump_mean_m) : base::Cell("-")},
          {"jump_skew_m", c.on ? cell(c.on->jump_skew_m) : base::Cell("-")},
          {"kick_a_n", on(&ServoOn::kick_a_n)},
          {"kick_b_n", on(&ServoOn::kick_b_n)},
          {"moved_mean_m", on(&ServoOn::moved_mean_m)},
          {"moved_skew_m", on(&ServoOn::moved_skew_m)}};
}

// Asked for once loops are closed; no gate waits for it.
Finding none_yet() {
  return {
      .id = "no_enabling",
      .text = "What lets go at servo-off and what jumps at servo-on is not on record.",
      .next =
          "Loops closed at rest, nobody near the bridge: 0.5 s, disable, 1 s, enable, 0.5 s; references, positions "
          "and outputs of both sides at 1 kHz, as a capture of kind enabling."};
}

}  // namespace

std::optional<double> add_enable_captures(const std::vector<recording::Recording>& recordings, const Machine& m,
                                          const Known& known, base::StationResult& result) {
  std::vector<base::Row> rows;
  std::optional<double> largest;
  const SkewLimit limit = skew_limit(m, known);
  for (const EnableCapture& c : enable_captures(recordings)) {
    if (c.off) {
      result.findings.push_back(released(c, m, limit));
      result.findings.push_back(sag(c, m));
      result.findings.push_back(together(c, "off_together", "go to zero", c.off->off_a_s, c.off->off_b_s));
      largest = std::max(largest.value_or(0), std::abs(c.off->largest_m));
    }
    if (c.on) {
      result.findings.push_back(take_over(c, m, limit));
      if (std::isfinite(c.on->on_a_s) && std::isfinite(c.on->on_b_s))
        result.findings.push_back(together(c, "on_together", "come", c.on->on_a_s, c.on->on_b_s));
    }
    rows.push_back(row_of(c));
  }
  if (rows.empty() && reached_by(recordings) == Reached::moved && !m.common_shaft && m.feedback_on_both_sides)
    result.findings.push_back(none_yet());
  if (!rows.empty()) result.values.emplace_back("enabling", base::Value{.value = std::move(rows)});
  return largest;
}

}  // namespace evenbeam::readiness
