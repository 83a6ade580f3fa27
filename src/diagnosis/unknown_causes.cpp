#include <fmt/format.h>

#include <algorithm>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kLeft = 0.25;  // of the mean Coulomb friction, root mean square; a proposal, no source

}  // namespace

// What the law leaves of d, or that no possible machine fits: something acts that no criterion here asks about.
std::vector<Cause> law_not_followed(const identification::Identified& identified) {
  const identification::MotionFit& fit = identified.motion;
  const char* const next =
      "None of the causes asked here makes this by itself. Look at the figure of the force along x and at the span "
      "named: what repeats at the same place is rail, rack, screw or motor; what repeats in time is a drive or a "
      "loop; a jog at half the speed tells one from the other.";
  if (!fit.done) {
    if (fit.recordings.empty()) return {};
    return {cause("law_not_followed", math::with_sd(0, 0), "N", 0,
                  {"No possible machine follows these captures: " + fit.reason + ".", next}, 0)};
  }
  const double friction = coulomb_mean(fit);
  const auto worst = std::max_element(fit.recordings.begin(), fit.recordings.end(), [](const auto& p, const auto& q) {
    return p.residual_fight_n < q.residual_fight_n;
  });
  if (worst == fit.recordings.end() || !(worst->residual_fight_n > kLeft * friction)) return {};
  Cause c = cause("law_not_followed", math::with_sd(worst->residual_fight_n, 0), "N", kLeft * friction,
                  {fmt::format("In {} the fight departs from the machine's own law by {:.0f} N (root mean square), "
                               "{:.0f} % of the friction.",
                               worst->name, worst->residual_fight_n, 100 * worst->residual_fight_n / friction),
                   next},
                  worst->residual_fight_n);
  c.finding.recording = worst->name;
  c.finding.from_s = worst->from_s;
  c.finding.to_s = worst->to_s;
  return {c};
}

}  // namespace evenbeam::diagnosis
