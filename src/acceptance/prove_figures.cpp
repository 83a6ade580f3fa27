#include "acceptance/prove_figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acceptance/prove_findings.h"

namespace evenbeam::acceptance {

namespace {

using base::Line;
using base::Panel;
using base::Role;

constexpr std::size_t figure_slices = 500;

Line line_of(Role role, std::string label, const std::vector<double>& x, const std::vector<double>& y) {
  Line line{.role = role, .label = std::move(label)};
  thin(x, y, figure_slices, line);
  return line;
}

void add_skew_limits(const JudgedMove& move, const machine::Machine& machine, const ProveInput& input, Panel& panel) {
  constexpr double near = 5;  // a limit far outside would flatten the curve
  if (machine.limits.skew_goal_m)
    panel.bands.push_back({.from = -*machine.limits.skew_goal_m,
                           .to = *machine.limits.skew_goal_m,
                           .label = "skew goal (machine description)"});
  if (input.allowable_skew_m && *input.allowable_skew_m < near * move.measures.skew.peak) {
    panel.bands.push_back({.from = *input.allowable_skew_m, .label = "not allowed (station limits)"});
    panel.bands.push_back({.to = -*input.allowable_skew_m, .label = ""});
  }
}

}  // namespace

void thin(const std::vector<double>& x, const std::vector<double>& y, std::size_t slices, Line& out) {
  const std::size_t n = y.size();
  if (n <= 2 * slices) {
    out.x = x;
    out.y = y;
    return;
  }
  for (std::size_t s = 0; s < slices; ++s) {
    const std::size_t from = s * n / slices, to = (s + 1) * n / slices;
    std::size_t low = to, high = to;
    for (std::size_t i = from; i < to; ++i) {
      if (!std::isfinite(y[i])) continue;
      if (low == to || y[i] < y[low]) low = i;
      if (high == to || y[i] > y[high]) high = i;
    }
    if (low == to) low = high = from;  // nothing but missing samples: drawn as missing
    for (const std::size_t i : {std::min(low, high), std::max(low, high)}) {
      out.x.push_back(x[i]);
      out.y.push_back(y[i]);
      if (low == high) break;
    }
  }
}

base::Figure move_figure(const JudgedMove& move, const machine::Machine& machine, const ProveInput& input) {
  const recording::Recording& rec = *move.recording;
  const MoveMeasures& m = move.measures;
  base::Figure figure{.id = "prove_move_" + slug(rec.name),
                      .title = fmt::format("{}: peak skew {:.0f} um", rec.name, m.skew.peak * 1e6),
                      .caption = "Skew error, following errors of the sides and forces, from " + rec.name + "."};
  Panel skew{.x = {.label = "time", .unit = "s"}, .y = {.label = "skew error", .unit = "m"}};
  skew.lines.push_back(line_of(Role::skew, "skew error", rec.time_s, m.errors.skew_m));
  if (move.forecast && move.forecast->skew_error_m.size() == rec.time_s.size())
    skew.lines.push_back(line_of(Role::forecast, "forecast", rec.time_s, move.forecast->skew_error_m));
  add_skew_limits(move, machine, input, skew);
  Panel errors{.x = {.label = "time", .unit = "s"}, .y = {.label = "following error", .unit = "m"}};
  errors.lines.push_back(line_of(Role::side_a, "A", rec.time_s, m.errors.a_m));
  errors.lines.push_back(line_of(Role::side_b, "B", rec.time_s, m.errors.b_m));
  figure.panels = {skew, errors};
  if (recording::has_forces(rec)) {
    Panel forces{.x = {.label = "time", .unit = "s"}, .y = {.label = "force", .unit = "N"}};
    forces.lines.push_back(line_of(Role::side_a, "A", rec.time_s, rec.force_a_n));
    forces.lines.push_back(line_of(Role::side_b, "B", rec.time_s, rec.force_b_n));
    figure.panels.push_back(forces);
  }
  return figure;
}

base::Figure comparison_figure(const std::vector<JudgedMove>& moves, const machine::Machine& machine) {
  base::Figure figure{.id = "prove_comparison",
                      .title = "Moves compared: peak against RMS skew error",
                      .caption = "Each point one move; down and left is better."};
  Panel panel{.x = {.label = "RMS skew error", .unit = "m"}, .y = {.label = "peak skew error", .unit = "m"}};
  for (const JudgedMove& move : moves) {
    const MoveMeasures& m = move.measures;
    panel.lines.push_back({.role = Role::measured,
                           .stroke = base::Stroke::points,
                           .label = move.recording->name,
                           .x = {m.skew.rms},
                           .y = {m.skew.peak},
                           .lower = {m.skew.peak - m.peak_doubt_m},
                           .upper = {m.skew.peak + m.peak_doubt_m}});
  }
  if (machine.limits.skew_goal_m)
    panel.bands.push_back({.from = 0, .to = *machine.limits.skew_goal_m, .label = "skew goal (machine description)"});
  figure.panels.push_back(panel);
  return figure;
}

base::Figure settling_figure(const std::vector<JudgedMove>& moves, const SettleWindow& window) {
  base::Figure figure{.id = "prove_settling",
                      .title = "How the errors die away after the first stop",
                      .caption =
                          "Mean error above, skew error below, from the stop of the reference on. The band is the "
                          "settling window: " +
                          window.source + "."};
  Panel mean{.x = {.label = "time after the stop", .unit = "s"}, .y = {.label = "mean error", .unit = "m"}};
  Panel skew{.x = {.label = "time after the stop", .unit = "s"}, .y = {.label = "skew error", .unit = "m"}};
  for (Panel* panel : {&mean, &skew})
    panel->bands.push_back({.from = -window.half_m, .to = window.half_m, .label = "settling window"});
  for (const JudgedMove& move : moves) {
    const MoveMeasures& m = move.measures;
    if (m.settlings.empty()) continue;
    const Stroke& s = m.phases.strokes[m.settlings.front().stroke];
    std::vector<double> time;
    for (std::size_t i = s.to; i < s.rest_to; ++i) time.push_back(double(i - s.to) * move.recording->period_s);
    const auto part = [&](const std::vector<double>& x) {
      return std::vector<double>(x.begin() + std::ptrdiff_t(s.to), x.begin() + std::ptrdiff_t(s.rest_to));
    };
    mean.lines.push_back(line_of(Role::mean, move.recording->name, time, part(m.errors.mean_m)));
    skew.lines.push_back(line_of(Role::skew, move.recording->name, time, part(m.errors.skew_m)));
  }
  figure.panels = {mean, skew};
  return figure;
}

}  // namespace evenbeam::acceptance
