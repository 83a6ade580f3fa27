#include "acceptance/circle_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "acceptance/circle_move.h"
#include "acceptance/prove_figures.h"
#include "acceptance/prove_findings.h"

namespace evenbeam::acceptance {

namespace {

using base::Cell;
using base::Finding;
using base::Row;
using base::Value;
using base::Verdict;

constexpr double feeds_alike = 0.05;  // of the mean: both ways at one feed
constexpr const char* definitions = "ISO 230-4 by the machine's own scales (clause wording from memory)";
constexpr const char* how_to_drive =
    "Drive a whole turn each way round at the work's feed, with a way in and out, and record both references and "
    "positions of the sides and of the cross axis (reference_y, position_y).";

std::string um(double length_m) { return fmt::format("{:.1f} um", length_m * 1e6); }

const Turn* turn_at(const CircleMove& circle, const std::optional<std::size_t>& place) {
  return place ? &circle.turns[*place] : nullptr;
}

struct Headline {
  double deviation_m = 0, outermost_m = 0, innermost_m = 0, slowest_m_per_s = 0, fastest_m_per_s = 0;
};
Headline headline_of(const CircleMove& circle) {
  Headline out{.outermost_m = -1e300, .innermost_m = 1e300, .slowest_m_per_s = 1e300};
  for (const Turn& t : circle.turns) {
    out.deviation_m = std::max(out.deviation_m, t.deviation_m);
    out.outermost_m = std::max(out.outermost_m, t.outermost_m);
    out.innermost_m = std::min(out.innermost_m, t.innermost_m);
    out.slowest_m_per_s = std::min(out.slowest_m_per_s, t.feed_m_per_s);
    out.fastest_m_per_s = std::max(out.fastest_m_per_s, t.feed_m_per_s);
  }
  return out;
}

Finding start(const CircleMove& circle) {
  Finding f{.id = "circle_" + slug(circle.recording->name), .recording = circle.recording->name};
  if (circle.turns.empty()) return f;
  f.from_s = circle.recording->time_s[circle.turns.front().from];
  f.to_s = circle.recording->time_s[circle.turns.back().to - 1];
  return f;
}

std::string feeds_in_words(const Headline& h) {
  const double slow = h.slowest_m_per_s * 60, fast = h.fastest_m_per_s * 60;
  return fast - slow < 0.005 * fast ? fmt::format("{:.3g} m/min", (slow + fast) / 2)
                                    : fmt::format("{:.3g} to {:.3g} m/min", slow, fast);
}

std::string measured_in_words(const CircleMove& circle, const Headline& h) {
  std::string text =
      fmt::format("Circle of {:.4g} mm radius at {}: circular deviation G", 1e3 * circle.radius_m, feeds_in_words(h));
  if (const Turn* t = turn_at(circle, circle.worst_anticlockwise))
    text += fmt::format(" {} anticlockwise", um(t->deviation_m));
  if (const Turn* t = turn_at(circle, circle.worst_clockwise))
    text += fmt::format("{} {} clockwise", circle.worst_anticlockwise ? "," : "", um(t->deviation_m));
  if (circle.hysteresis_m)
    text += fmt::format(", both ways together G(b) {}, hysteresis H {}", um(*circle.bidirectional_m),
                        um(*circle.hysteresis_m));
  return text + fmt::format(", radial deviation F {:+.1f} to {:+.1f} um (counts leave each radius open by {}).",
                            1e6 * h.innermost_m, 1e6 * h.outermost_m, um(circle.radius_doubt_m));
}

void hold_against_goal(double doubt_m, const machine::Machine& machine, Finding& f) {
  if (!machine.limits.circular_goal_m) {
    f.source = std::string(definitions) + "; no goal is stated";
    f.next = "State circular_goal under [limits] of machine.toml, so that this number can be judged.";
    return;
  }
  f.limit = machine.limits.circular_goal_m;
  f.source = std::string("machine description: circular goal of the process; ") + definitions;
  if (*f.value + doubt_m <= *f.limit) return;
  f.verdict = Verdict::attention;
  const bool broken = *f.value - doubt_m > *f.limit;
  f.text += fmt::format(" The process takes {}{}.", um(*f.limit),
                        broken ? "" : "; the counts leave open whether that is kept");
  f.next = broken ? "Equal lag of both axes first (same position gain and feed-forward), then friction at the "
                    "reversals; slower is better, and tells lag from friction."
                  : "Record with finer counts, or allow a margin.";
}

// What the record leaves unsaid of both ways together.
void say_what_lacks(const CircleMove& circle, const Headline& h, Finding& f) {
  if (!circle.hysteresis_m) {
    f.verdict = base::worse(f.verdict, Verdict::attention);
    f.text += fmt::format(" Driven {} alone: hysteresis H and G(b) are unknown.",
                          circle.worst_anticlockwise ? "anticlockwise" : "clockwise");
    f.next += std::string(f.next.empty() ? "" : " ") + "Drive the other way round too, at the same feed.";
  } else if (h.fastest_m_per_s - h.slowest_m_per_s > feeds_alike * h.fastest_m_per_s) {
    f.text += " The turns were driven at unlike feeds: H and G(b) hold their lags too.";
  }
  if (std::any_of(circle.turns.begin(), circle.turns.end(), [](const Turn& t) { return t.start_or_stop_in; }))
    f.text += " Start or stop lies within a turn.";
}

Finding measured_finding(const CircleMove& circle, const machine::Machine& machine) {
  const Headline h = headline_of(circle);
  Finding f = start(circle);
  f.verdict = Verdict::pass;
  f.value = h.deviation_m;
  f.lower = std::max(0.0, h.deviation_m - 2 * circle.radius_doubt_m);
  f.upper = h.deviation_m + 2 * circle.radius_doubt_m;
  f.unit = "m";
  f.text = measured_in_words(circle, h);
  hold_against_goal(2 * circle.radius_doubt_m, machine, f);
  say_what_lacks(circle, h, f);
  f.text += " Squareness and errors of the scales are not in it: scales do not see them (station square).";
  return f;
}

Finding not_measured(const recording::Recording& rec, const std::string& why) {
  return {.id = "circle_" + slug(rec.name),
          .verdict = Verdict::not_done,
          .text = fmt::format("The circle in {} cannot be judged: {}.", rec.name, why),
          .recording = rec.name,
          .next = how_to_drive};
}

// A goal without a circle: the promise stands open.
Finding goal_without_circle(double goal_m) {
  return {
      .id = "circle_missing",
      .verdict = Verdict::attention,
      .text = fmt::format("The work takes {} of circular deviation, and no circle is recorded: whether it is kept "
                          "is unknown.",
                          um(goal_m)),
      .unit = "m",
      .limit = goal_m,
      .source = "machine description: circular goal of the process",
      .next = how_to_drive};
}

base::Figure figure_of(const CircleMove& circle, const machine::Machine& machine) {
  const Headline h = headline_of(circle);
  base::Figure figure{.id = "prove_circle_" + slug(circle.recording->name),
                      .title = fmt::format("{}: circular deviation {}", circle.recording->name, um(h.deviation_m)),
                      .caption = fmt::format("Radial deviation from the commanded circle of {:.4g} mm radius, "
                                             "magnified, outwards away from its centre; x to the right, y upwards. "
                                             "The worst turn each way.",
                                             1e3 * circle.radius_m)};
  base::Panel panel{.x = {.label = "angle from +x towards +y", .unit = "rad"},
                    .y = {.label = "radial deviation F", .unit = "m"},
                    .round = true};
  const auto add = [&](const Turn* turn, base::Role role, const char* label) {
    if (!turn) return;
    std::vector<double> angle, radius;
    double last = 0;
    for (const math::Polar& p : math::polar_about(turn->path, circle.centre_x_m, circle.centre_y_m)) {
      last = angle.empty() ? p.angle_rad : last + std::remainder(p.angle_rad - last, 2 * std::numbers::pi);
      angle.push_back(last);
      radius.push_back(p.radius_m - circle.radius_m);
    }
    base::Line line{.role = role, .label = label};
    thin(angle, radius, 720, line);
    panel.lines.push_back(std::move(line));
  };
  add(turn_at(circle, circle.worst_anticlockwise), base::Role::measured, "anticlockwise");
  add(turn_at(circle, circle.worst_clockwise), base::Role::other, "clockwise");
  figure.panels.push_back(std::move(panel));
  if (machine.limits.circular_goal_m)
    figure.caption += fmt::format(" Goal of the work: G of {} at most.", um(*machine.limits.circular_goal_m));
  return figure;
}

Cell cell(const std::optional<double>& value) { return value ? Cell{*value} : Cell{std::string("unknown")}; }

Row row_of(const CircleMove& c) {
  const Headline h = headline_of(c);
  const auto part = [&](const std::optional<std::size_t>& place, double Turn::*member) {
    return cell(place ? std::optional(c.turns[*place].*member) : std::nullopt);
  };
  return {{"recording", c.recording->name},
          {"radius_m", c.radius_m},
          {"slowest_feed_m_per_s", h.slowest_m_per_s},
          {"fastest_feed_m_per_s", h.fastest_m_per_s},
          {"turns", double(c.turns.size())},
          {"circular_deviation_anticlockwise_m", part(c.worst_anticlockwise, &Turn::deviation_m)},
          {"circular_deviation_clockwise_m", part(c.worst_clockwise, &Turn::deviation_m)},
          {"bidirectional_deviation_m", cell(c.bidirectional_m)},
          {"circular_hysteresis_m", cell(c.hysteresis_m)},
          {"radial_deviation_max_m", h.outermost_m},
          {"radial_deviation_min_m", h.innermost_m},
          {"radius_doubt_m", c.radius_doubt_m}};
}

Value bounded(double value, double doubt, double least) {
  Value out{.unit = "m"};
  out.value = value, out.lower = std::max(least, value - doubt), out.upper = value + doubt;
  out.level = 1.0;  // bounds from counts, not statistics
  return out;
}

// Single numbers: of the circle with the largest G; H of the one with the largest H.
void add_values(const std::vector<CircleMove>& circles, base::StationResult& result) {
  const auto worst = std::max_element(circles.begin(), circles.end(), [](const CircleMove& a, const CircleMove& b) {
    return headline_of(a).deviation_m < headline_of(b).deviation_m;
  });
  const Headline h = headline_of(*worst);
  const double d = worst->radius_doubt_m;
  Value hysteresis{.unit = "m"}, rows{.unit = ""};
  double largest = -1;
  std::vector<Row> list;
  for (const CircleMove& c : circles) {
    list.push_back(row_of(c));
    if (!c.hysteresis_m || *c.hysteresis_m <= largest) continue;
    largest = *c.hysteresis_m;
    hysteresis = bounded(largest, 2 * c.radius_doubt_m, 0);
  }
  rows.value = list;
  result.values.emplace_back("circular_deviation_m", bounded(h.deviation_m, 2 * d, 0));
  result.values.emplace_back("circular_hysteresis_m", hysteresis);
  result.values.emplace_back("radial_deviation_max_m", bounded(h.outermost_m, d, -1e300));
  result.values.emplace_back("radial_deviation_min_m", bounded(h.innermost_m, d, -1e300));
  result.values.emplace_back("circles", rows);
}

}  // namespace

void add_circles(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                 base::StationOutcome& out) {
  std::vector<CircleMove> measured;
  bool any = false;
  for (const recording::Recording& rec : recordings) {
    if (rec.kind != recording::RunKind::circle) continue;
    any = true;
    const std::string missing = columns_missing(rec);
    if (!missing.empty()) {
      out.result.findings.push_back(not_measured(rec, "it has no " + missing));
      continue;
    }
    CircleMove circle = judge_circle(rec, machine.span_m);
    if (circle.turns.empty()) {
      out.result.findings.push_back(not_measured(rec, circle.trouble));
      continue;
    }
    out.result.findings.push_back(measured_finding(circle, machine));
    out.figures.push_back(figure_of(circle, machine));
    measured.push_back(std::move(circle));
  }
  if (!measured.empty()) add_values(measured, out.result);
  if (!any && machine.limits.circular_goal_m) {
    out.result.findings.push_back(goal_without_circle(*machine.limits.circular_goal_m));
    any = true;
  }
  if (any) out.result.verdict = base::overall(out.result.findings);
}

}  // namespace evenbeam::acceptance
