#include "servo/loop_law.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::servo {

std::vector<base::Trouble> check_settings(const machine::Settings& s) {
  std::vector<base::Trouble> troubles;
  const auto refuse = [&](const std::string& field, double value, const std::string& rule) {
    troubles.push_back({"settings", 0, 0, fmt::format("{} = {}", field, value), rule, "Correct the setting"});
  };
  const auto want_positive = [&](const std::string& field, double value) {
    if (!std::isfinite(value) || !(value > 0)) refuse(field, value, "a finite number > 0");
  };
  const auto want_finite = [&](const std::string& field, double value) {
    if (!std::isfinite(value)) refuse(field, value, "a finite number");
  };
  want_positive("period_s", s.period_s);
  want_positive("coulomb_ramp_m_per_s", s.coulomb_ramp_m_per_s);
  want_positive("peak_force_a_n", s.peak_force_a_n);
  want_positive("peak_force_b_n", s.peak_force_b_n);
  if (!(s.share >= 0 && s.share <= 1)) refuse("share", s.share, "between 0 and 1 (the part that A gives)");
  want_finite("mass_ff_kg", s.mass_ff_kg);
  want_finite("skew_ff_kg", s.skew_ff_kg);
  want_finite("coulomb_ff_a_n", s.coulomb_ff_a_n);
  want_finite("coulomb_ff_b_n", s.coulomb_ff_b_n);
  want_finite("viscous_ff_a_n_s_per_m", s.viscous_ff_a_n_s_per_m);
  want_finite("viscous_ff_b_n_s_per_m", s.viscous_ff_b_n_s_per_m);
  want_finite("offset_a_n", s.offset_a_n);
  want_finite("offset_b_n", s.offset_b_n);
  check_coordinate(s.mean, s.period_s, "mean", troubles);
  check_coordinate(s.skew, s.period_s, "skew", troubles);
  return troubles;
}

LoopLaw prepare(const machine::Settings& s) {
  auto troubles = check_settings(s);
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  LoopLaw law;
  law.mean = prepare(s.mean, s.period_s);
  law.skew = prepare(s.skew, s.period_s);
  law.share = s.share;
  law.mass_ff_kg = s.mass_ff_kg, law.skew_ff_kg = s.skew_ff_kg;
  law.coulomb_a_n = s.coulomb_ff_a_n, law.coulomb_b_n = s.coulomb_ff_b_n;
  law.per_ramp_s_per_m = 1 / s.coulomb_ramp_m_per_s;
  law.viscous_a_n_s_per_m = s.viscous_ff_a_n_s_per_m, law.viscous_b_n_s_per_m = s.viscous_ff_b_n_s_per_m;
  law.offset_a_n = s.offset_a_n, law.offset_b_n = s.offset_b_n;
  law.peak_a_n = s.peak_force_a_n, law.peak_b_n = s.peak_force_b_n;
  return law;
}

namespace {
int clip(double& force_n, double peak_n) {
  const int side = force_n > peak_n ? 1 : force_n < -peak_n ? -1 : 0;
  force_n = std::clamp(force_n, -peak_n, peak_n);
  return side;
}
}  // namespace

Forces share_and_clip(const LoopLaw& law, LoopState& s, const Reference& r, const Feedback& feedback) {
  const double mean_n = law.mass_ff_kg * r.mean_m_per_s2;
  const double skew_n = law.skew_ff_kg * r.skew_m_per_s2;
  const double v = r.mean_m_per_s;
  const double ramp = std::clamp(v * law.per_ramp_s_per_m, -1.0, 1.0);
  Forces out;
  out.a_n = feedback.a_n + law.share * mean_n + skew_n + law.coulomb_a_n * ramp + law.viscous_a_n_s_per_m * v +
            law.offset_a_n;
  out.b_n = feedback.b_n + (1 - law.share) * mean_n - skew_n + law.coulomb_b_n * ramp + law.viscous_b_n_s_per_m * v +
            law.offset_b_n;
  out.clip_a = s.clip_a = clip(out.a_n, law.peak_a_n);
  out.clip_b = s.clip_b = clip(out.b_n, law.peak_b_n);
  return out;
}

Forces step(const LoopLaw& law, LoopState& s, const Reference& r, double position_a_m, double position_b_m) {
  // A positive w of the mean raises both forces; one of the skew raises A and lowers B.
  const double u_mean = step(law.mean, s.mean, r.mean_m, r.mean_m_per_s, 0.5 * (position_a_m + position_b_m),
                             s.clip_a > 0 || s.clip_b > 0, s.clip_a < 0 || s.clip_b < 0);
  const double u_skew = step(law.skew, s.skew, r.skew_m, r.skew_m_per_s, position_a_m - position_b_m,
                             s.clip_a > 0 || s.clip_b < 0, s.clip_a < 0 || s.clip_b > 0);
  return share_and_clip(law, s, r, {law.share * u_mean + u_skew, (1 - law.share) * u_mean - u_skew});
}

}  // namespace evenbeam::servo
