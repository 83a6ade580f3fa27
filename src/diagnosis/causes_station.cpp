#include "diagnosis/causes_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kFrictionAsymmetry = 0.3;  // of the mean; a proposal, no source
constexpr double kForceImbalance =
    0.01;                                // smaller is within a motor constant's tolerance; common practice, no source
constexpr double kStandingFriction = 2;  // times the mean Coulomb friction; a proposal, no source
constexpr double kUnexplained = 0.5;     // times the mean Coulomb friction; a proposal, no source
constexpr double kLimitReached = 0.999;  // of the peak: commands are written with few digits
constexpr double kTold = 0.5;            // below it the papers speak (math/estimate.h)
const char* const kProposal = "docs/causes.md; a proposal of practice, no standard";

double coulomb_mean(const identification::MotionFit& fit) {
  return (std::abs(fit.coulomb_a_n.value) + std::abs(fit.coulomb_b_n.value)) / 2;
}

bool beside_zero(const math::Estimate& e) { return e.lower > 0 || e.upper < 0; }

std::optional<Cause> unequal_friction(const identification::MotionFit& fit) {
  if (std::min(fit.coulomb_a_n.from_data, fit.coulomb_b_n.from_data) < kTold) return {};
  const math::Estimate difference = identification::friction_difference(fit, 1e-12);
  const double limit = kFrictionAsymmetry * coulomb_mean(fit);
  if (!beside_zero(difference) || std::abs(difference.value) < limit) return {};
  const bool a = difference.value > 0;
  return Cause{
      {.id = "unequal_friction",
       .verdict = Verdict::attention,
       .text = fmt::format("Side {} rubs more: Coulomb friction is {:.0f} N on A and {:.0f} N on B.", a ? "A" : "B",
                           fit.coulomb_a_n.value, fit.coulomb_b_n.value),
       .value = difference.value,
       .unit = "N",
       .lower = difference.lower,
       .upper = difference.upper,
       .limit = limit,
       .source = kProposal,
       .next = fmt::format("Look at side {} for a dragging brake, dry or tight carriages, a tight belt or nut, "
                           "wipers; the captures do not tell these apart. Push each side by hand, brakes "
                           "released, before and after.",
                           a ? "A" : "B")},
      std::abs(difference.value) / 2};
}

std::optional<Cause> unequal_viscous(const identification::MotionFit& fit, double speed_m_per_s) {
  const math::Estimate &a = fit.viscous_a_n_s_per_m, &b = fit.viscous_b_n_s_per_m;
  if (speed_m_per_s <= 0 || std::min(a.from_data, b.from_data) < kTold) return {};
  constexpr double fast = 1e9;  // Coulomb friction out of sight
  const math::Estimate difference = identification::friction_difference(fit, fast);
  const double limit = kFrictionAsymmetry * (std::abs(a.value) + std::abs(b.value)) / 2;
  const double value = difference.value / fast, fight_n = std::abs(value) / 2 * speed_m_per_s;
  if (!beside_zero(difference) || std::abs(value) < limit) return {};
  return Cause{
      {.id = "unequal_viscous_friction",
       .verdict = Verdict::attention,
       .text = fmt::format("Side {} drags more with speed: {:.0f} N s/m on A, {:.0f} on B; {:.0f} N of fight at "
                           "{:.2f} m/s.",
                           value > 0 ? "A" : "B", a.value, b.value, fight_n, speed_m_per_s),
       .value = value,
       .unit = "N*s/m",
       .lower = difference.lower / fast,
       .upper = difference.upper / fast,
       .limit = limit,
       .source = kProposal,
       .next = "Look at grease, wipers and gearbox of that side, cold and warm; station loops feeds each "
               "side's friction forward on its own side."},
      fight_n};
}

std::optional<Cause> unequal_force(const identification::MotionFit& fit) {
  const math::Estimate& e = fit.force_imbalance;
  if (e.from_data < kTold || !beside_zero(e) || std::abs(e.value) < kForceImbalance) return {};
  return Cause{
      {.id = "unequal_force_per_output",
       .verdict = Verdict::attention,
       .text = fmt::format("One newton commanded is {:.1f} % stronger on side {} than on {}.",
                           200 * std::abs(e.value), e.value > 0 ? "A" : "B", e.value > 0 ? "B" : "A"),
       .value = e.value,
       .unit = "1",
       .lower = e.lower,
       .upper = e.upper,
       .limit = kForceImbalance,
       .source = kProposal,
       .next = "Compare force constant, current scaling and ratio of both drives; a motor's constant, a drive's "
               "scaling and a wrong ratio look the same in these captures. A load cell on each side tells. "
               "The share of station loops already allows for it."},
      std::abs(e.value) * coulomb_mean(fit)};
}

const Part* largest(const FightBudget& budget) {
  const auto it = std::max_element(budget.parts.begin(), budget.parts.end(), [](const Part& x, const Part& y) {
    return std::abs(x.force_n.value) < std::abs(y.force_n.value);
  });
  return it == budget.parts.end() ? nullptr : &*it;
}

double spread(const math::Estimate& e) { return (e.upper - e.lower) / 2; }

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

const FightBudget* heaviest(const std::vector<FightBudget>& budgets) {
  const FightBudget* out = nullptr;
  for (const FightBudget& b : budgets)
    if (out == nullptr || std::abs(b.means.fight_n) > std::abs(out->means.fight_n)) out = &b;
  return out;
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

std::vector<Cause> unequal_sides(const identification::MotionFit& fit, double speed_m_per_s) {
  std::vector<Cause> out;
  if (!fit.done) return out;
  if (auto cause = unequal_friction(fit)) out.push_back(*cause);
  if (auto cause = unequal_viscous(fit, speed_m_per_s)) out.push_back(*cause);
  if (auto cause = unequal_force(fit)) out.push_back(*cause);
  return out;
}

std::vector<Cause> standing_fight(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit) {
  std::vector<FightBudget> standing;
  std::copy_if(budgets.begin(), budgets.end(), std::back_inserter(standing),
               [](const FightBudget& b) { return b.means.phase == Phase::standing; });
  const FightBudget* worst = heaviest(standing);
  const double limit = kStandingFriction * coulomb_mean(fit);
  if (worst == nullptr || std::abs(worst->means.fight_n) < limit + 1.96 * worst->means.fight_sd_n) return {};
  const Part* part = largest(*worst);
  const math::Estimate whole = math::with_sd(worst->means.fight_n, worst->means.fight_sd_n);
  return {
      {{.id = "fight_at_standstill",
        .verdict = Verdict::attention,
        .text = fmt::format("At rest the sides push against each other with {:.0f} N; the largest part is {}, {:.0f} "
                            "N +- {:.0f} N.",
                            std::abs(whole.value), part->name, part->force_n.value, spread(part->force_n)),
        .value = whole.value,
        .unit = "N",
        .lower = whole.lower,
        .upper = whole.upper,
        .limit = limit,
        .source = kProposal,
        .recording = worst->recording,
        .from_s = worst->means.from_s,
        .to_s = worst->means.to_s,
        .next = "Compare the skew commanded at rest with the stress-free skew (station marks). Skew steps both ways "
                "at rest part held friction from a standing pull."},
       std::abs(whole.value)}};
}

std::vector<Cause> unexplained(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit) {
  const FightBudget* worst = nullptr;
  const auto sure = [](const FightBudget& b) {  // the end of the interval nearest to zero
    const math::Estimate& e = b.parts.back().force_n;
    return beside_zero(e) ? std::min(std::abs(e.lower), std::abs(e.upper)) : 0.0;
  };
  for (const FightBudget& b : budgets)
    if (b.means.phase != Phase::standing && (worst == nullptr || sure(b) > sure(*worst))) worst = &b;
  const double limit = kUnexplained * coulomb_mean(fit);
  if (worst == nullptr || sure(*worst) <= limit) return {};
  const math::Estimate& rest = worst->parts.back().force_n;
  return {
      {{.id = "fight_unexplained",
        .verdict = Verdict::attention,
        .text = fmt::format("{:.0f} N of the fight, {}, is none of the parts this program knows.",
                            std::abs(rest.value), to_text(worst->means.phase)),
        .value = rest.value,
        .unit = "N",
        .lower = rest.lower,
        .upper = rest.upper,
        .limit = limit,
        .source = kProposal,
        .recording = worst->recording,
        .from_s = worst->means.from_s,
        .to_s = worst->means.to_s,
        .next = "Cable pull, pitch or scale mismatch, rails out of line and guides look the same here. Jog slowly "
                "over the whole travel, forward and back: a pull keeps its sign, a pitch error grows along x."},
       std::abs(rest.value)}};
}

std::vector<Cause> saturation(const recording::Recording& r, const machine::Machine& machine) {
  std::vector<Cause> out;
  const auto side = [&](const char* name, const char* id, const std::vector<double>& force,
                        const std::optional<double>& peak) {
    if (!peak || *peak <= 0 || force.empty()) return;
    const auto full = [&](double f) { return std::abs(f) >= kLimitReached * *peak; };
    const auto first = std::find_if(force.begin(), force.end(), full);
    if (first == force.end()) return;
    const auto last = std::find_if(force.rbegin(), force.rend(), full).base() - 1;
    const auto count = std::count_if(force.begin(), force.end(), full);
    const double part = static_cast<double>(count) / static_cast<double>(force.size());
    out.push_back(
        {{.id = fmt::format("force_at_limit_{}_{}", id, r.name),
          .verdict = Verdict::attention,
          .text = fmt::format("Side {} asks for its full force in {:.2f} % of the samples; what it lacks "
                              "then turns the bridge.",
                              name, 100 * part),
          .value = part,
          .unit = "1",
          .limit = 0,
          .source = kProposal,
          .recording = r.name,
          .from_s = r.time_s[static_cast<std::size_t>(first - force.begin())],
          .to_s = r.time_s[static_cast<std::size_t>(last - force.begin())],
          .next = "Lower acceleration, or move the carriage towards the other side; station loops gives the "
                  "share."},
         0});
  };
  side("A", "a", r.force_a_n, machine.a.peak_force_n);
  side("B", "b", r.force_b_n, machine.b.peak_force_n);
  return out;
}

std::vector<Cause> unequal_sampling(const recording::Recording& r, const identification::MotionFit& fit) {
  if (r.b_late_s == 0 || r.time_s.empty()) return {};
  const double false_skew_m = std::abs(r.b_late_s) * recording::motion_of(r).top_speed_m_per_s;
  const double fight_n = fit.done ? std::abs(fit.x[identification::kStiffness]) * false_skew_m : 0;
  return {
      {{.id = "unequal_sampling_" + r.name,
        .verdict = Verdict::attention,
        .text = fmt::format("B was sampled {:.2f} ms {} than A: {:.0f} um of the skew recorded at top speed is not "
                            "there. It is taken out before anything is computed.",
                            1e3 * std::abs(r.b_late_s), r.b_late_s > 0 ? "later" : "earlier", 1e6 * false_skew_m),
        .value = r.b_late_s,
        .unit = "s",
        .source = "recording/time_shift.h: skew against speed",
        .recording = r.name,
        .from_s = r.time_s.front(),
        .to_s = r.time_s.back(),
        .next = "Let both positions be latched in the same cycle. A move at two speeds tells whether the controller "
                "itself reads them apart, or only the recorder: then the sides fight in proportion to speed."},
       fight_n}};
}

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
