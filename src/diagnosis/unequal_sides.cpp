#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kFrictionAsymmetry = 0.3;  // of the mean; a proposal, no source
constexpr double kLeastFight = 0.1;         // of the mean Coulomb friction; less is nobody's trouble; a proposal
constexpr double kForceImbalance =
    0.01;  // smaller is within a motor constant's tolerance; common practice, no source
constexpr double kStiffnessApart = 0.15;  // of A's; a proposal, no source
constexpr double kTold = 0.5;             // below it the papers speak (math/estimate.h)

std::optional<Cause> unequal_friction(const identification::MotionFit& fit) {
  if (std::min(fit.coulomb_a_n.from_data, fit.coulomb_b_n.from_data) < kTold) return {};
  const math::Estimate difference = identification::friction_difference(fit, 1e-12);
  const double limit = kFrictionAsymmetry * coulomb_mean(fit);
  if (!beside_zero(difference) || std::abs(difference.value) < limit) return {};
  const char* const side = difference.value > 0 ? "A" : "B";
  return cause("unequal_friction", difference, "N", limit,
               {fmt::format("Side {} rubs more: Coulomb friction is {:.0f} N on A and {:.0f} N on B.", side,
                            fit.coulomb_a_n.value, fit.coulomb_b_n.value),
                fmt::format("Look at side {} for a dragging brake, dry or tight carriages, a tight belt or nut, "
                            "wipers; the captures do not tell these apart. Push each side by hand, brakes "
                            "released, before and after.",
                            side)},
               std::abs(difference.value) / 2);
}

std::optional<Cause> unequal_viscous(const identification::MotionFit& fit, double speed_m_per_s) {
  const math::Estimate &a = fit.viscous_a_n_s_per_m, &b = fit.viscous_b_n_s_per_m;
  if (speed_m_per_s <= 0 || std::min(a.from_data, b.from_data) < kTold) return {};
  constexpr double fast = 1e9;  // Coulomb friction out of sight
  const math::Estimate force = identification::friction_difference(fit, fast);
  const math::Estimate difference{force.value / fast, force.sd / fast, force.lower / fast, force.upper / fast};
  const double limit = kFrictionAsymmetry * (std::abs(a.value) + std::abs(b.value)) / 2;
  if (!beside_zero(difference) || std::abs(difference.value) < limit) return {};
  const double fight_n = std::abs(difference.value) / 2 * speed_m_per_s;
  if (fight_n < kLeastFight * coulomb_mean(fit)) return {};
  return cause("unequal_viscous_friction", difference, "N*s/m", limit,
               {fmt::format("Side {} drags more with speed: {:.0f} N s/m on A, {:.0f} on B; {:.0f} N of fight at "
                            "{:.2f} m/s.",
                            difference.value > 0 ? "A" : "B", a.value, b.value, fight_n, speed_m_per_s),
                "Look at grease, wipers and gearbox of that side, cold and warm; station loops feeds each "
                "side's friction forward on its own side."},
               fight_n);
}

std::optional<Cause> unequal_force(const identification::MotionFit& fit) {
  const math::Estimate& e = fit.force_imbalance;
  if (e.from_data < kTold || !beside_zero(e) || std::abs(e.value) < kForceImbalance) return {};
  return cause("unequal_force_per_output", e, "1", kForceImbalance,
               {fmt::format("One newton commanded is {:.1f} % stronger on side {} than on {}.",
                            200 * std::abs(e.value), e.value > 0 ? "A" : "B", e.value > 0 ? "B" : "A"),
                "Compare force constant, current scaling and ratio of both drives; a motor's constant, a drive's "
                "scaling and a wrong ratio look the same in these captures. A load cell on each side tells. "
                "The share of station loops already allows for it."},
               std::abs(e.value) * coulomb_mean(fit));
}

}  // namespace

std::vector<Cause> unequal_drives(const identification::GreyFit& fit) {
  using namespace identification;
  if (!fit.done || !fit.drives_seen) return {};
  const math::Estimate &a = fit.parameters[kGreyStiffnessA], &b = fit.parameters[kGreyStiffnessB];
  if (std::min(a.from_data, b.from_data) < kTold || !(a.value > 0) || !(b.value > 0)) return {};
  const double ratio = b.value / a.value, sd = ratio * std::hypot(a.sd / a.value, b.sd / b.value);
  const math::Estimate apart = math::with_sd(ratio - 1, sd);
  if (!beside_zero(apart) || std::abs(apart.value) < kStiffnessApart) return {};
  return {
      cause("unequal_drive_stiffness", apart, "1", kStiffnessApart,
            {fmt::format("B's drive is {:.0f} % {} than A's: {:.3g} N/m on A, {:.3g} N/m on B.",
                         100 * std::abs(apart.value), apart.value > 0 ? "stiffer" : "softer", a.value, b.value),
             "Compare belt tension or nut preload, coupling and bearing of both sides; a loose one moves with its "
             "motor while the bridge does not."},
            0)};
}

std::vector<Cause> unequal_sides(const identification::MotionFit& fit, double speed_m_per_s) {
  std::vector<Cause> out;
  if (!fit.done) return out;
  if (auto cause = unequal_friction(fit)) out.push_back(*cause);
  if (auto cause = unequal_viscous(fit, speed_m_per_s)) out.push_back(*cause);
  if (auto cause = unequal_force(fit)) out.push_back(*cause);
  return out;
}

}  // namespace evenbeam::diagnosis
