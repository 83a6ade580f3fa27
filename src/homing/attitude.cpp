#include "homing/attitude.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

std::optional<double> life_ratio(const AttitudeInput& in, double moment_n_m) {
  if (in.turns_freely) return 1.0;
  if (!in.guide_arm_m || !in.guide_standing_force_n || *in.guide_arm_m <= 0) return std::nullopt;
  const double lateral = moment_n_m / (2 * *in.guide_arm_m);
  return std::pow(*in.guide_standing_force_n / (*in.guide_standing_force_n + lateral), in.life_exponent);
}

AttitudePoint point(const AttitudeInput& in, double part) {
  const double size = std::abs(in.square_skew_m) * part, worst = size + in.thermal_skew_m;
  const base::Estimate k = in.turns_freely ? base::exactly(0) : *in.yaw_stiffness_n_m_per_rad;
  AttitudePoint p{.part = part, .skew_m = in.square_skew_m * part};
  const double left = (1 - part) * std::abs(in.square_skew_m);
  p.out_of_square_rad = (left + in.doubt_m + in.thermal_skew_m) / in.span_m;
  p.fight_n = k.value * size / (in.span_m * in.span_m);
  p.fight_high_n = k.upper * worst / (in.span_m * in.span_m);
  p.life_ratio = life_ratio(in, k.value * size / in.span_m);
  p.life_ratio_worst = life_ratio(in, k.upper * worst / in.span_m);
  return p;
}

// Largest part that the mountings allow, heat included.
double most(const AttitudeInput& in) {
  if (!in.allowable_skew_m || in.square_skew_m == 0) return 1;
  return std::clamp((*in.allowable_skew_m - in.thermal_skew_m) / std::abs(in.square_skew_m), 0.0, 1.0);
}

std::string life_words(const AttitudePoint& p) {
  return p.life_ratio_worst ? fmt::format(", guides keep at least {:.0f} % of their life", 100 * *p.life_ratio_worst)
                            : ", what it costs the guides is not known (their ratings are missing)";
}

void recommend_wanted(const AttitudeInput& in, AttitudeTrade& out) {
  const double fixed = in.doubt_m + in.thermal_skew_m, wanted = *in.squareness_wanted_rad * in.span_m;
  const double size = std::abs(in.square_skew_m),
               needed = size > 0 ? std::clamp(1 - (wanted - fixed) / size, 0.0, 1.0) : 0;
  const double part = std::min(needed, most(in));
  out.recommended = point(in, part);
  out.wanted_is_reached = out.recommended.out_of_square_rad <= *in.squareness_wanted_rad * (1 + 1e-9);
  out.reason = fmt::format(
      "the smallest part of the way to square that keeps the {:.0f} urad wanted at worst, {:.0f} N "
      "of standing fight{}",
      1e6 * *in.squareness_wanted_rad, out.recommended.fight_n, life_words(out.recommended));
  if (out.wanted_is_reached) return;
  out.reason = fmt::format(
      "the {:.0f} urad wanted cannot be kept ({}): at best {:.0f} urad here, {:.0f} N of standing "
      "fight{}",
      1e6 * *in.squareness_wanted_rad,
      part < needed ? "guides and mountings do not take more skew"
                    : "doubt and heat alone are more; measure the squareness better or keep the "
                      "temperature",
      1e6 * out.recommended.out_of_square_rad, out.recommended.fight_n, life_words(out.recommended));
}

void recommend_unstated(const AttitudeInput& in, AttitudeTrade& out) {
  const AttitudePoint square = point(in, 1);
  const bool in_doubt = std::abs(in.square_skew_m) <= in.doubt_m;
  const bool half =
      in.allowable_skew_m && std::abs(in.square_skew_m) + in.thermal_skew_m <= 0.5 * *in.allowable_skew_m;
  const bool cheap = square.life_ratio_worst && *square.life_ratio_worst >= kLifeKept && half;
  out.recommended = cheap && !in_doubt ? square : point(in, 0);
  if (in_doubt)
    out.reason = "free and square are the same within what is known: free, which costs nothing";
  else if (cheap)
    out.reason = fmt::format(
        "square costs {:.0f} N of standing fight{}, and less than half of what guides and "
        "mountings take",
        square.fight_n, life_words(square));
  else
    out.reason = fmt::format(
        "no squareness is asked for (squareness_wanted in [homing]) and square would cost {:.0f} N "
        "of standing fight{}: free, {:.0f} urad out of square at worst",
        square.fight_n, life_words(square), 1e6 * out.recommended.out_of_square_rad);
}

}  // namespace

AttitudeTrade attitude_trade(const AttitudeInput& in) {
  AttitudeTrade out;
  if (!in.turns_freely && !in.yaw_stiffness_n_m_per_rad) {
    out.missing = "the yaw stiffness";
    return out;
  }
  out.known = true;
  for (int i = 0; i <= 10; ++i) out.curve.push_back(point(in, i / 10.0));
  if (in.squareness_wanted_rad)
    recommend_wanted(in, out);
  else
    recommend_unstated(in, out);
  return out;
}

}  // namespace evenbeam::homing
