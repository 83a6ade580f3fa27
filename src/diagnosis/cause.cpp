#include "diagnosis/cause.h"

#include <cmath>
#include <utility>

namespace evenbeam::diagnosis {
namespace {

Cause seen_in(Cause cause, const std::string& recording, double from_s, double to_s) {
  cause.finding.recording = recording;
  cause.finding.from_s = from_s;
  cause.finding.to_s = to_s;
  return cause;
}

}  // namespace

Cause cause(std::string id, const math::Estimate& size, std::string unit, double limit, Said said, double fight_n) {
  return {{.id = std::move(id),
           .verdict = base::Verdict::attention,
           .text = std::move(said.text),
           .value = size.value,
           .unit = std::move(unit),
           .lower = size.lower,
           .upper = size.upper,
           .limit = limit,
           .source = "docs/causes.md; a proposal of practice, no standard",
           .next = std::move(said.next)},
          fight_n};
}

Cause seen_in(Cause cause, const FightBudget& budget) {
  return seen_in(std::move(cause), budget.recording, budget.means.from_s, budget.means.to_s);
}

Cause seen_in(Cause cause, const recording::Recording& recording, double from_s, double to_s) {
  return seen_in(std::move(cause), recording.name, from_s, to_s);
}

double coulomb_mean(const identification::MotionFit& fit) {
  return (std::abs(fit.coulomb_a_n.value) + std::abs(fit.coulomb_b_n.value)) / 2;
}

bool beside_zero(const math::Estimate& e) { return e.lower > 0 || e.upper < 0; }

}  // namespace evenbeam::diagnosis
