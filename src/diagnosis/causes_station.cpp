#include "diagnosis/causes_station.h"

#include <fmt/format.h>

#include <algorithm>

#include "diagnosis/criteria.h"
#include "diagnosis/fight_budget.h"

namespace evenbeam::diagnosis {
namespace {

using base::Finding;
using base::Verdict;

base::Row row_of(const FightBudget& b) {
  base::Row row{{"recording", b.recording},
                {"phase", to_text(b.means.phase)},
                {"from_s", b.means.from_s},
                {"to_s", b.means.to_s},
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

Finding limits_of_the_answer(bool any) {
  return {.id = "not_asked",
          .verdict = any ? Verdict::pass : Verdict::not_done,
          .text =
              "Asked: unequal friction (Coulomb, viscous), unequal force per output, fight at standstill and not "
              "explained, force at its limit, unequal "
              "sampling. Not asked in this version: pitch and scale, guides, play, drift, switches, brakes and the "
              "loops; no finding says nothing about those. Odds are not stated.",
          .source = "docs/causes.md",
          .next =
              "Marks and switches: station marks. Loops: station loops. A scale or pitch difference shows in a "
              "laser or long scale read on both sides."};
}

}  // namespace

base::StationOutcome causes_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const identification::MotionFit& fit) {
  using recording::RunKind;
  base::StationOutcome out{.result = {.name = "causes"}};
  std::vector<FightBudget> budgets;
  std::vector<Cause> causes;
  const auto add = [&](std::vector<Cause> more) { causes.insert(causes.end(), more.begin(), more.end()); };
  for (const recording::Recording& r : recordings) {
    const bool steady = r.kind == RunKind::test_move || r.kind == RunKind::slow_jog || r.kind == RunKind::skew_step ||
                        r.kind == RunKind::standstill;
    if (r.kind == RunKind::one_side || r.kind == RunKind::unknown) continue;
    add(saturation(r, machine));
    add(unequal_sampling(r, fit));
    if (!steady) continue;
    for (FightBudget& b : fight_budgets(r, fit)) budgets.push_back(std::move(b));
  }
  double fastest = 0;
  for (const FightBudget& b : budgets) fastest = std::max(fastest, std::abs(b.means.speed_m_per_s));
  add(unequal_sides(fit, fastest));
  add(standing_fight(budgets, fit));
  add(unexplained(budgets, fit));
  std::stable_sort(causes.begin(), causes.end(),
                   [](const Cause& x, const Cause& y) { return x.fight_n > y.fight_n; });
  auto& findings = out.result.findings;
  std::vector<base::Row> rows;
  for (const Cause& c : causes) findings.push_back(c.finding);
  for (const FightBudget& b : budgets) rows.push_back(row_of(b));
  const auto blurred =
      std::find_if(budgets.begin(), budgets.end(), [](const auto& b) { return !b.inseparable.empty(); });
  if (blurred != budgets.end()) findings.push_back(inseparable_finding(*blurred));
  findings.push_back(limits_of_the_answer(!budgets.empty() || !causes.empty()));
  if (const FightBudget* b = heaviest(budgets)) out.figures.push_back(budget_figure(*b));
  base::Value budget{.unit = ""};
  if (!rows.empty()) budget.value = rows;
  out.result.values.emplace_back("fight_budget", budget);
  out.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::diagnosis
