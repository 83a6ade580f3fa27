#include "diagnosis/causes_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "diagnosis/criteria.h"
#include "diagnosis/fight_budget.h"
#include "diagnosis/mark_scatter.h"
#include "diagnosis/odds_answer.h"
#include "diagnosis/ranking.h"
#include "diagnosis/told_elsewhere.h"
#include "diagnosis/troubles.h"

namespace evenbeam::diagnosis {
namespace {

using base::Finding;
using base::Verdict;

base::Row row_of(const FightBudget& b) {
  base::Row row{{"recording", b.recording},  {"phase", to_text(b.means.phase)},        {"from_s", b.means.from_s},
                {"to_s", b.means.to_s},      {"speed_m_per_s", b.means.speed_m_per_s}, {"sum_n", b.means.sum_n},
                {"whole_n", b.means.fight_n}};
  for (const Part& p : b.parts) {
    std::string key = p.name;
    std::replace(key.begin(), key.end(), ' ', '_');
    std::transform(key.begin(), key.end(), key.begin(), [](char c) { return c == 'C' ? 'c' : c; });
    row.emplace_back(key + "_n", p.force_n.value);
    row.emplace_back(key + "_lower_n", p.force_n.lower);
    row.emplace_back(key + "_upper_n", p.force_n.upper);
  }
  return row;
}

// Bars: one place an entry, a point with its interval for each part.
base::Figure budget_figure(const FightBudget& b) {
  base::Figure figure{
      .id = "causes_fight",
      .title = fmt::format("What the force difference is made of, {}", to_text(b.means.phase)),
      .caption = fmt::format("{}. Half of F_A less F_B, commanded newtons; bars: 95 %.", b.recording)};
  base::Panel panel{.x = {.label = "part", .unit = ""}, .y = {.label = "force", .unit = "N"}};
  const auto bar = [&](const std::string& label, const math::Estimate& e, base::Role role) {
    const double x = static_cast<double>(panel.lines.size());
    panel.lines.push_back({.role = role,
                           .label = label,
                           .x = {x - 0.3, x + 0.3},
                           .y = {e.value, e.value},
                           .lower = {e.lower, e.lower},
                           .upper = {e.upper, e.upper}});
  };
  bar("whole", math::with_sd(b.means.fight_n, b.means.fight_sd_n), base::Role::mean);
  for (const Part& p : b.parts) bar(p.name, p.force_n, base::Role::measured);
  figure.panels.push_back(panel);
  return figure;
}

Finding inseparable_finding(const FightBudget& b) {
  std::string pairs;
  for (const auto& [x, y] : b.inseparable) pairs += (pairs.empty() ? "" : "; ") + x + " and " + y;
  return {.id = "parts_not_told_apart",
          .verdict = Verdict::not_done,
          .text = fmt::format("{} ({}): these parts of the fight cannot be told apart, only their sums: {}.",
                              b.recording, to_text(b.means.phase), pairs),
          .recording = b.recording,
          .from_s = b.means.from_s,
          .to_s = b.means.to_s,
          .next =
              "Make a slow jog over the whole travel, forward and back at three speeds, and skew steps both ways at "
              "rest: speed parts the frictions, steps part spring from friction."};
}

Finding with_captures(const Ranked& r) {
  Finding f = r.cause.finding;
  if (r.captures > 1) f.text += fmt::format(" The same in {} captures.", r.captures);
  return f;
}

Finding long_jog_missing() {
  return {.id = "long_jog_missing",
          .verdict = Verdict::not_done,
          .text =
              "No capture goes evenly over the same places both ways, so nothing is said about rails, scales, cables "
              "and tight spots.",
          .source = "docs/causes.md, Along the rails",
          .next =
              "Make this one: jog slowly over the whole travel, there and back, at even speed, and record "
              "positions and outputs of both sides."};
}

std::string least_scatter_text(const std::optional<MarkScatter>& scatter) {
  return scatter ? fmt::format(
                       " Marks that scatter by less than {:.0f} um (sd) in {} searches cannot be told from firm "
                       "ones.",
                       1e6 * scatter->least_m, scatter->searches)
                 : "";
}

Finding limits_of_the_answer(bool any, const std::optional<MarkScatter>& scatter) {
  return {
      .id = "not_asked",
      .verdict = any ? Verdict::pass : Verdict::not_done,
      .text = std::string("Asked: friction, force per output and drive stiffness of the sides; fight at standstill, "
                          "not explained, and along the rails; a pull on the bridge, tight spots; play, force cut "
                          "off, clocks that drift; switch-ons apart, a skew that springs back, mass and share "
                          "against the papers, marks that scatter, overload at rest where a continuous force is "
                          "stated; outputs that the loops stated do not give; force at its limit, commands apart, "
                          "lost counts, swinging at rest, unequal sampling. Not asked in this version: heat but by "
                          "the marks, brakes but by their stated delays; no finding says nothing about those.") +
              least_scatter_text(scatter),
      .source = "docs/causes.md",
      .next = "Marks and switches: station marks. Loops and margins: station loops. Trips: station trips."};
}

// Along the rails: there and back, and the friction of each side.
base::Figure along_figure(const ForceAlongX& map) {
  base::Figure figure{
      .id = "causes_along_x",
      .title = "Forces along the rails at even speed",
      .caption = fmt::format("{}. Commanded newtons, the yaw spring's part taken out.", map.recording)};
  const auto line = [&](const char* label, const std::vector<double>& y, base::Role role) {
    return base::Line{.role = role, .label = label, .x = map.x_m, .y = y};
  };
  base::Panel fight{.x = {.label = "x", .unit = "m"}, .y = {.label = "half of A less B", .unit = "N"}};
  fight.lines = {line("there", map.fight_there_n, base::Role::measured),
                 line("back", map.fight_back_n, base::Role::mean)};
  base::Panel friction{.x = {.label = "x", .unit = "m"}, .y = {.label = "friction", .unit = "N"}};
  friction.lines = {line("A", map.friction_a_n, base::Role::side_a), line("B", map.friction_b_n, base::Role::side_b)};
  figure.panels = {fight, friction};
  return figure;
}

// What each recording tells by itself; its budgets are added to `budgets`.
std::vector<Cause> of_recording(const recording::Recording& r, const machine::Machine& machine,
                                const identification::MotionFit& fit, double friction_n,
                                std::vector<FightBudget>& budgets) {
  using recording::RunKind;
  std::vector<Cause> out;
  if (r.kind == RunKind::one_side || r.kind == RunKind::unknown) return out;
  const auto add = [&](std::vector<Cause> more) { out.insert(out.end(), more.begin(), more.end()); };
  add(saturation(r, machine));
  add(unequal_sampling(r, fit, friction_n));
  add(suspected_sampling(r));
  add(sides_off(r));
  add(springs_back(r, fit, friction_n));
  add(overload_at_rest(r, machine, friction_n));
  if (r.kind == RunKind::search) add(commands_apart(r, fit));
  const bool steady = r.kind == RunKind::test_move || r.kind == RunKind::slow_jog || r.kind == RunKind::skew_step ||
                      r.kind == RunKind::standstill;
  if (!steady) return out;
  add(commands_apart(r, fit));
  const std::vector<Cause> jumps = position_jumps(r, fit);
  add(jumps);
  add(hunting(r));
  add(loops_not_as_stated(r));
  const std::vector<Cause> clips = clipped_force(r, friction_n);
  add(clips);
  // A step of the reading bends the spring's line too, and so does a force asked that was not given.
  if (jumps.empty() && clips.empty()) add(play(r, friction_n));
  for (FightBudget& b : fight_budgets(r, fit)) budgets.push_back(std::move(b));
  return out;
}

}  // namespace

base::StationOutcome causes_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const identification::Identified& identified,
                                    const std::vector<base::StationResult>& done) {
  const identification::MotionFit& fit = identified.motion;
  base::StationOutcome out{.result = {.name = "causes"}};
  std::vector<FightBudget> budgets;
  std::vector<Cause> causes;
  const auto add = [&](std::vector<Cause> more) { causes.insert(causes.end(), more.begin(), more.end()); };
  const ForceAlongX map = force_along_x(recordings, fit);
  const double friction_n = friction_of_a_side(fit, map);
  for (const recording::Recording& r : recordings) add(of_recording(r, machine, fit, friction_n, budgets));
  double fastest = 0;
  for (const FightBudget& b : budgets) fastest = std::max(fastest, std::abs(b.means.speed_m_per_s));
  add(unequal_sides(fit, fastest));
  add(unequal_drives(identified.grey));
  add(standing_fight(budgets, fit, machine));
  add(unexplained(budgets, fit));
  add(along_x(map, fit));
  add(clocks_drift(recordings, map.spring_n_per_m, friction_n));
  const auto found = [&](const char* kind) {
    return std::any_of(causes.begin(), causes.end(), [&](const Cause& c) { return c.finding.id.starts_with(kind); });
  };
  const std::vector<Cause> unknown = law_not_followed(identified);
  // A mass is known by the force that moved it, not by what was asked; a share, by a law that is followed.
  if (!found("force_clipped_")) add(mass_not_as_stated(fit, machine));
  if (!found("force_clipped_") && !found("play_") && unknown.empty()) add(share_slope_not_as_stated(fit, machine));
  add(unknown);
  const std::optional<MarkScatter> scatter = mark_scatter(done, recordings, fit);
  add(marks_scatter(scatter));
  auto& findings = out.result.findings;
  std::vector<Finding> met;
  for (const Ranked& r : ranked(told_by_stations(done), causes)) met.push_back(with_captures(r));
  OddsAnswer answer = odds_answer(met);
  findings = std::move(answer.findings);
  if (map.x_m.empty() && !recordings.empty()) findings.push_back(long_jog_missing());
  if (const auto question = switch_ons_apart(fit)) findings.push_back(*question);
  for (Finding& f : told_elsewhere(done)) findings.push_back(std::move(f));
  std::vector<base::Row> rows;
  for (const FightBudget& b : budgets) rows.push_back(row_of(b));
  const auto blurred =
      std::find_if(budgets.begin(), budgets.end(), [](const auto& b) { return !b.inseparable.empty(); });
  if (blurred != budgets.end()) findings.push_back(inseparable_finding(*blurred));
  findings.push_back(limits_of_the_answer(!budgets.empty() || !causes.empty(), scatter));
  if (answer.figure) out.figures.push_back(*answer.figure);
  if (const FightBudget* b = heaviest(budgets)) out.figures.push_back(budget_figure(*b));
  if (!map.x_m.empty()) out.figures.push_back(along_figure(map));
  base::Value budget{.unit = ""};
  if (!rows.empty()) budget.value = rows;
  out.result.values.emplace_back("fight_budget", budget);
  out.result.values.emplace_back("cause_odds", std::move(answer.value));
  base::Value least{.unit = "m"};
  if (scatter) least.value = scatter->least_m;
  out.result.values.emplace_back("least_mark_scatter_m", least);
  out.result.values.emplace_back("troubles", base::Value{.value = trouble_rows(findings)});
  out.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::diagnosis
