#include "limits/limits_figures.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::limits {

base::Figure push_figure(const SafePush& push, const machine::Machine& machine) {
  std::optional<double> peak;
  if (machine.a.peak_force_n && machine.b.peak_force_n)
    peak = std::min(*machine.a.peak_force_n, *machine.b.peak_force_n);
  base::Figure figure{
      .id = "limits_push",
      .title = fmt::format("First push: at most {:.0f} N for {:.0f} ms", push.force_n, push.time_s * 1e3),
      .caption =
          "Largest push of a side that keeps speed, skew and yaw moment inside even with the "
          "other side dead or reversed, against its duration. Met first: " +
          push.binding + "."};
  const double scale = peak ? 100 / *peak : 1;
  base::Panel panel{.x = {.label = "push time", .unit = "s", .logarithmic = true},
                    .y = {.label = peak ? "push level, per cent of peak" : "push force",
                          .unit = peak ? "" : "N",
                          .logarithmic = true}};
  base::Line ceiling{.role = base::Role::other, .label = "largest safe push"};
  const double top = peak ? *peak : 20 * push.wanted_force_n;
  for (int i = 0; i <= 60; ++i) {
    const double time = 0.005 * std::pow(100.0, i / 60.0);
    const double force = largest_force_n(push.push, push.limits, time, top * push.scale_high) / push.scale_high;
    ceiling.x.push_back(time);
    ceiling.y.push_back(force > 0 ? force * scale : std::nan(""));
  }
  panel.lines.push_back(ceiling);
  panel.lines.push_back({.role = base::Role::measured,
                         .stroke = base::Stroke::points,
                         .label = "chosen",
                         .x = {push.time_s},
                         .y = {push.force_n * scale}});
  if (peak)
    panel.bands.push_back({.from = 2, .to = 3, .label = "start at 2-3 % of peak (common practice, no source)"});
  figure.panels.push_back(panel);
  return figure;
}

base::Figure ladder_figure(const Allowable& allowed) {
  base::Figure figure{
      .id = "limits_ladder",
      .title = allowed.skew_governs.empty() ? "Limits known so far" : "What governs: " + allowed.skew_governs,
      .caption =
          "Yaw moment and skew that each known limit allows. A limit whose skew is not known "
          "(yaw stiffness not measured) is drawn on the axis of moment."};
  base::Panel panel{.x = {.label = "skew", .unit = "m"}, .y = {.label = "yaw moment", .unit = "N*m"}};
  for (const Candidate& candidate : allowed.candidates) {
    const bool named_by_bands = candidate.name == allowed.moment_governs && candidate.name == allowed.skew_governs;
    panel.lines.push_back({.role = base::Role::other,
                           .stroke = base::Stroke::points,
                           .label = named_by_bands ? "" : candidate.name,
                           .x = {candidate.skew_m.value_or(0)},
                           .y = {candidate.moment_n_m.value_or(0)}});
  }
  if (allowed.moment_n_m && allowed.skew_m && allowed.moment_governs == allowed.skew_governs)
    panel.lines.push_back({.role = base::Role::skew,
                           .label = "spring of the guides",
                           .x = {0, *allowed.skew_m},
                           .y = {0, *allowed.moment_n_m}});
  if (allowed.moment_n_m)
    panel.bands.push_back({.from = *allowed.moment_n_m, .label = "not allowed (" + allowed.moment_governs + ")"});
  if (allowed.skew_m)
    panel.bands.push_back(
        {.along_x = true, .from = *allowed.skew_m, .label = "not allowed (" + allowed.skew_governs + ")"});
  figure.panels.push_back(panel);
  return figure;
}

}  // namespace evenbeam::limits
