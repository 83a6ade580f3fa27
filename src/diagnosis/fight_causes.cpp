#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kStandingFriction = 2;      // times the mean Coulomb friction; a proposal, no source
constexpr double kStandingContinuous = 0.2;  // of the continuous force; a proposal, no source
constexpr double kUnexplained = 0.75;        // times the mean Coulomb friction; a proposal, no source

const Part* largest(const FightBudget& budget) {
  const auto it = std::max_element(budget.parts.begin(), budget.parts.end(), [](const Part& x, const Part& y) {
    return std::abs(x.force_n.value) < std::abs(y.force_n.value);
  });
  return it == budget.parts.end() ? nullptr : &*it;
}

double spread(const math::Estimate& e) { return (e.upper - e.lower) / 2; }

}  // namespace

const FightBudget* heaviest(const std::vector<FightBudget>& budgets) {
  const FightBudget* out = nullptr;
  for (const FightBudget& b : budgets)
    if (out == nullptr || std::abs(b.means.fight_n) > std::abs(out->means.fight_n)) out = &b;
  return out;
}

std::vector<Cause> standing_fight(const std::vector<FightBudget>& budgets, const identification::MotionFit& fit,
                                  const machine::Machine& machine) {
  std::vector<FightBudget> standing;
  std::copy_if(budgets.begin(), budgets.end(), std::back_inserter(standing),
               [](const FightBudget& b) { return b.means.phase == Phase::standing; });
  const FightBudget* worst = heaviest(standing);
  double limit = kStandingFriction * coulomb_mean(fit);
  for (const auto& continuous : {machine.a.continuous_force_n, machine.b.continuous_force_n})
    if (continuous) limit = std::min(limit, kStandingContinuous * *continuous);
  if (worst == nullptr || std::abs(worst->means.fight_n) < limit + 1.96 * worst->means.fight_sd_n) return {};
  const Part* part = largest(*worst);
  const math::Estimate whole = math::with_sd(worst->means.fight_n, worst->means.fight_sd_n);
  Said said{fmt::format("At rest the sides push against each other with {:.0f} N; the largest part is {}, {:.0f} "
                        "N +- {:.0f} N.",
                        std::abs(whole.value), part->name, part->force_n.value, spread(part->force_n)),
            "Compare the skew commanded at rest with the stress-free skew (station marks). Skew steps both ways "
            "at rest part held friction from a standing pull."};
  return {seen_in(cause("fight_at_standstill", whole, "N", limit, std::move(said), std::abs(whole.value)), *worst)};
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
  Said said{fmt::format("{:.0f} N of the fight, {}, is none of the parts this program knows.", std::abs(rest.value),
                        to_text(worst->means.phase)),
            "Cable pull, pitch or scale mismatch, rails out of line and guides look the same here. Jog slowly "
            "over the whole travel, forward and back: a pull keeps its sign, a pitch error grows along x."};
  return {seen_in(cause("fight_unexplained", rest, "N", limit, std::move(said), std::abs(rest.value)), *worst)};
}

}  // namespace evenbeam::diagnosis
