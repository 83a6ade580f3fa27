#include "homing/marks_figures.h"

#include <fmt/format.h>

#include <algorithm>

namespace evenbeam::homing {

base::Figure mark_map(const Marks& marks) {
  base::Panel panel{.x = {"search number", ""}, .y = {"b - a", "m"}};
  base::Line bare{.role = base::Role::other, .stroke = base::Stroke::points, .label = "bare latch difference"},
      free{.role = base::Role::measured, .stroke = base::Stroke::points, .label = "at the stress-free attitude"};
  for (size_t k = 0; k < marks.runs.size(); ++k) {
    const SearchRun& run = marks.runs[k];
    const double x = static_cast<double>(k + 1);
    if (run.both_seen) bare.x.push_back(x), bare.y.push_back(run.latch_a_m - run.latch_b_m);
    if (run.b_minus_a_m) free.x.push_back(x), free.y.push_back(run.b_minus_a_m->value);
  }
  panel.lines = {bare, free};
  const Interval known = marks.known ? Interval{marks.b_minus_a_free_m.lower, marks.b_minus_a_free_m.upper}
                                     : marks.b_minus_a_bounds_m.value_or(Interval{});
  if (marks.known || marks.b_minus_a_bounds_m)
    panel.bands.push_back({.from = known.low,
                           .to = known.high,
                           .label = marks.known ? "95 % interval of b - a, guides free" : "where b - a can lie"});
  return {
      .id = "marks_map",
      .title = "Where B's mark lies against A's",
      .caption =
          "Each search: the bare difference of the latches, and the same with the skew of that switch-on taken out.",
      .panels = {panel}};
}

base::Figure fight_figure(const std::vector<recording::Recording>& recordings, const Marks& marks) {
  base::Panel panel{.x = {"skew off the stress-free attitude", "m"}, .y = {"fight (F_A - F_B)/2", "N"}};
  for (const SearchRun& run : marks.runs)
    for (const auto& r : recordings) {
      if (r.name != run.name || !run.stress_free_m || !has_forces(r)) continue;
      base::Line line{.role = base::Role::measured, .stroke = base::Stroke::points, .label = run.name};
      const size_t block = std::max<size_t>(1, r.time_s.size() / 120);
      for (size_t i = 0; i + block <= r.time_s.size(); i += block) {
        double skew = 0, fight = 0;
        for (size_t j = i; j < i + block; ++j) {
          skew += (r.position_a_m[j] - r.position_b_m[j]) / static_cast<double>(block);
          fight += (r.force_a_n[j] - r.force_b_n[j]) / 2 / static_cast<double>(block);
        }
        if (r.time_s[i] < r.time_s.front() + 0.3 || r.time_s[i] > std::max(run.seen_a_s, run.seen_b_s)) continue;
        line.x.push_back(skew - run.stress_free_m->value);
        line.y.push_back(fight);
      }
      panel.lines.push_back(std::move(line));
    }
  return {
      .id = "marks_fight_against_skew",
      .title = "Fight against skew over the searches",
      .caption =
          "Block means of the moving part of each search, placed by its own stress-free skew. One line through all: "
          "the guides' yaw stiffness over span squared; its height at zero is half the sides' friction difference.",
      .panels = {panel}};
}

base::Figure replay_figure(const SearchProblem& p, const Replay& r, const FailingStart& start, bool fails) {
  const bool stop = p.reference == Reference::hard_stop;
  base::Panel way{.x = {"time", "s"},
                  .y = {stop ? "beyond own stop, along the search" : "beyond own mark, along the search", "m"}};
  way.lines = {{.role = base::Role::side_a, .label = "A", .x = r.time_s, .y = r.a_from_mark_m},
               {.role = base::Role::side_b, .label = "B", .x = r.time_s, .y = r.b_from_mark_m}};
  const auto seen = [&](const std::optional<double>& time, int mark, double at_m, base::Role role, const char* side) {
    if (!time) return;
    const char* what = stop ? "takes this for its stop" : mark == 0 ? "sees its mark" : "sees another mark";
    way.lines.push_back({.role = role,
                         .stroke = base::Stroke::points,
                         .label = fmt::format("{} {}", side, what),
                         .x = {*time},
                         .y = {at_m}});
  };
  seen(r.a_seen_s, r.a_mark, r.a_seen_at_m, base::Role::side_a, "A");
  seen(r.b_seen_s, r.b_mark, r.b_seen_at_m, base::Role::side_b, "B");
  base::Panel skew{.x = way.x, .y = {"skew off the stress-free attitude", "m"}};
  skew.lines = {{.role = base::Role::skew, .label = "skew", .x = r.time_s, .y = r.skew_m}};
  if (p.allowable_skew_m) {
    skew.bands.push_back({.from = *p.allowable_skew_m, .label = "beyond what the mountings take"});
    skew.bands.push_back({.to = -*p.allowable_skew_m, .label = "beyond what the mountings take"});
  }
  return {.id = fails ? "marks_search_fails" : "marks_search_succeeds",
          .title =
              fails ? "A start that is not promised: " + r.outcome : "The search from its latest start: " + r.outcome,
          .caption = fmt::format(
              "Start: middle of the bridge {:.3f} mm from A's mark, racked {:.3f} mm, marks at that end of their "
              "doubt. {}",
              1e3 * start.mean_m, 1e3 * start.skew_m,
              r.on_virtual_gantry ? "Played on the virtual gantry with the machine's fit and the loops of the search."
              : r.momentum_helped
                  ? "Each side drawn as far as its force takes it against friction and guides. On the virtual gantry "
                    "the momentum of the search carried it to the stop, which is no promise."
              : stop ? "Each side drawn as far as its force takes it against friction and guides."
                     : "Both sides drawn as following exactly."),
          .panels = {way, skew}};
}

}  // namespace evenbeam::homing
