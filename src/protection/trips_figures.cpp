#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protection/trips_station.h"

namespace evenbeam::protection {
namespace {

base::Figure window_figure(const TripSettings& t, double allowable_m) {
  base::Figure figure{.id = "trips_window"};
  figure.title = t.window_open
                     ? fmt::format("Skew trip at {:.2f} mm: above every ordinary move, in time for the faults",
                                   1e3 * t.skew_trip_m)
                     : "No skew trip does both: stay out of ordinary moves and hold the faults";
  figure.caption =
      "Largest skew of each fault under the chosen reaction (points, smallest first), from the stress-free attitude, "
      "against the skew trip. Left of the window ordinary moves would trip; right of it a fault is seen too late.";
  // One row a fault, so that no two labels meet.
  base::Panel panel{.x = {.label = "skew", .unit = "m", .logarithmic = true},
                    .y = {.label = "faults, smallest first", .unit = ""}};
  std::vector<const FaultRow*> rows;
  for (const FaultRow& row : t.faults) rows.push_back(&row);
  std::stable_sort(rows.begin(), rows.end(), [](const FaultRow* left, const FaultRow* right) {
    return left->worst.peak_skew_m < right->worst.peak_skew_m;
  });
  for (size_t i = 0; i < rows.size(); ++i)
    panel.lines.push_back({.role = rows[i]->held ? base::Role::measured : base::Role::other,
                           .stroke = base::Stroke::points,
                           .label = to_text(rows[i]->worst.fault) + (rows[i]->held ? "" : " (not held)"),
                           .x = {std::max(t.ordinary.skew_m / 4, rows[i]->worst.peak_skew_m)},
                           .y = {static_cast<double>(i + 1)}});
  const double top = static_cast<double>(rows.size()) + 1;
  panel.lines.push_back(
      {.role = base::Role::skew, .label = "skew trip", .x = {t.skew_trip_m, t.skew_trip_m}, .y = {0, top}});
  const double low = t.ordinary.skew_m / 4, high = t.ordinary.skew_m;
  panel.lines.push_back({.role = base::Role::forecast, .label = "ordinary moves", .x = {low, high}, .y = {0, 0}});
  panel.bands.push_back({.along_x = true, .from = low, .to = high, .label = ""});
  panel.bands.push_back({.along_x = true, .from = t.limit_m, .to = allowable_m, .label = "kept in hand"});
  panel.bands.push_back({.along_x = true, .from = allowable_m, .to = 1.6 * allowable_m, .label = "not allowed"});
  figure.panels.push_back(panel);
  return figure;
}

base::Figure trace_figure(const TripSettings& t) {
  const Worst& w = t.faults[t.worst].worst;
  base::Figure figure{.id = "trips_worst"};
  figure.title = fmt::format("Worst found: {} at {}, {:.2f} mm", to_text(w.fault),
                             w.scenario.side == FaultySide::a ? "A" : "B", 1e3 * w.peak_skew_m);
  figure.caption = fmt::format(
      "Carriage at {:.2f} m, payload {:.0f} kg, fault {:.0f} ms into the move; event model of mean and yaw. "
      "Reaction: {}.",
      w.place->place.carriage_y_m, w.place->place.payload_kg, 1e3 * w.scenario.fault_s, to_text(w.reaction));
  base::Panel skew_panel{.x = {.label = "time in the move", .unit = "s"}, .y = {.label = "skew", .unit = "m"}};
  base::Panel speed_panel{.x = {.label = "time in the move", .unit = "s"},
                          .y = {.label = "speed of the ends", .unit = "m/s"}};
  base::Line skew_line{.role = base::Role::skew, .label = "skew"}, a{.role = base::Role::side_a, .label = "A"},
      b{.role = base::Role::side_b, .label = "B"};
  const double end = std::max(t.worst_run.reaction_s, t.worst_run.peak_at_s) + 0.5;
  for (const TracePoint& p : t.worst_run.trace) {
    if (p.time_s > end) break;
    skew_line.x.push_back(p.time_s), skew_line.y.push_back(p.state[skew]);
    a.x.push_back(p.time_s), a.y.push_back(p.state[v_a]);
    b.x.push_back(p.time_s), b.y.push_back(p.state[v_b]);
  }
  skew_panel.lines.push_back(skew_line);
  if (t.worst_run.seen)
    skew_panel.bands.push_back(
        {.along_x = true, .from = w.scenario.fault_s, .to = t.worst_run.reaction_s, .label = "fault to reaction"});
  speed_panel.lines = {a, b};
  figure.panels = {skew_panel, speed_panel};
  return figure;
}

base::Figure captured_figure(const CapturedFault& c, const recording::Recording& r, double free_m) {
  base::Figure figure{.id = "trips_captured_" + r.name.substr(0, 2)};
  figure.title = fmt::format(
      "{}: {:.2f} mm from the stress-free attitude{}", r.name, 1e3 * std::abs(c.peak_skew_m),
      c.predicted_peak_m ? fmt::format(", {:.2f} mm predicted", 1e3 * std::abs(*c.predicted_peak_m)) : "");
  figure.caption =
      "Skew from the stress-free attitude, as captured and as the virtual gantry gives it from the other captures.";
  base::Panel panel{.x = {.label = "time", .unit = "s"}, .y = {.label = "skew", .unit = "m"}};
  base::Line measured{.role = base::Role::measured, .label = "measured"},
      forecast{.role = base::Role::forecast, .label = "predicted"};
  const double end = std::min(c.end_s, c.other_s + 0.6);
  for (size_t i = 0; i < r.time_s.size(); ++i)
    if (r.time_s[i] >= c.fault_s - 0.05 && r.time_s[i] <= end)
      measured.x.push_back(r.time_s[i]), measured.y.push_back(r.position_a_m[i] - r.position_b_m[i] - free_m);
  for (size_t i = 0; i < c.predicted_time_s.size(); ++i)
    if (c.predicted_time_s[i] >= c.fault_s - 0.05 && c.predicted_time_s[i] <= end)
      forecast.x.push_back(c.predicted_time_s[i]), forecast.y.push_back(c.predicted_skew_m[i] - free_m);
  panel.lines = {measured};
  if (!forecast.x.empty()) panel.lines.push_back(forecast);
  panel.bands.push_back({.along_x = true, .from = c.fault_s, .to = c.other_s, .label = "one side without output"});
  figure.panels.push_back(panel);
  return figure;
}

}  // namespace

std::vector<base::Figure> trips_figures(const TripSettings& t, const std::vector<CapturedFault>& captured,
                                        const std::vector<recording::Recording>& recordings, double allowable_m,
                                        double free_m) {
  std::vector<base::Figure> out;
  if (t.done) out = {window_figure(t, allowable_m), trace_figure(t)};
  for (const CapturedFault& c : captured)
    for (const recording::Recording& r : recordings)
      if (c.found && r.name == c.recording) out.push_back(captured_figure(c, r, free_m));
  return out;
}

}  // namespace evenbeam::protection
