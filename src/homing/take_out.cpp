#include "homing/take_out.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::homing {
namespace {

double mm(double metres) { return 1e3 * metres; }

void forecast(const TakeOutInput& in, TakeOut& out) {
  const base::Estimate none = base::exactly(0);
  const base::Estimate& k = in.turns_freely ? none : *in.yaw_stiffness_n_m_per_rad;
  const double friction = in.friction_n.value_or(0) / 2;
  const int last = 10;
  for (int i = 0; i <= last; ++i) {
    const double skew = in.from_skew_m + (in.to_skew_m - in.from_skew_m) * i / last, size = std::abs(skew);
    SkewStep step{
        .skew_m = skew, .moment_low = k.lower * size / in.span_m, .moment_high = k.upper * size / in.span_m};
    step.fight_high_n = step.moment_high / in.span_m + friction;
    out.largest_moment_n_m = std::max(out.largest_moment_n_m, step.moment_high);
    out.largest_fight_n = std::max(out.largest_fight_n, step.fight_high_n);
    out.way.push_back(step);
  }
}

void pace(const TakeOutInput& in, const std::optional<double>& allowed, TakeOut& out) {
  out.rate_m_per_s = in.search_speed_m_per_s;  // each side runs at half of it
  if (allowed) out.rate_m_per_s = std::min(out.rate_m_per_s, kNotMore * *allowed / kReaction_s);
  out.time_s = std::abs(in.to_skew_m - in.from_skew_m) / out.rate_m_per_s;
}

// First rule that speaks.
void advise(const TakeOutInput& in, const std::optional<double>& allowed, TakeOut& out) {
  const double change = std::abs(in.to_skew_m - in.from_skew_m);
  const double from = std::abs(in.from_skew_m), to = std::abs(in.to_skew_m);
  const auto say = [&](Advice advice, std::string reason) { out.advice = advice, out.reason = std::move(reason); };
  if (allowed && to > *allowed) {
    out.reach_m = std::copysign(*allowed, in.to_skew_m);
    return say(
        Advice::refuse,
        fmt::format("the attitude wanted is {:.3f} mm off the stress-free one and guides and mountings take {:.3f} "
                    "mm; align the rails or the mounting first, the drives must not hold it there",
                    mm(to), mm(*allowed)));
  }
  if (change <= in.doubt_m) return say(Advice::nothing, "what is to be taken out is less than what is known of it");
  if (allowed && from > *allowed)
    return say(
        Advice::release_end,
        fmt::format("a start {:.3f} mm off the stress-free attitude is beyond the {:.3f} mm that guides and "
                    "mountings take: drives off, unclamp one end, let the bridge come free, clamp it again, then "
                    "search anew",
                    mm(from), mm(*allowed)));
  if (in.force_limit_n && out.largest_fight_n > *in.force_limit_n)
    return say(
        Advice::release_end,
        fmt::format("it may take {:.0f} N of each side and {:.0f} N are there to last: unclamp one end, or move "
                    "the bridge to its free attitude by hand with the drives off",
                    out.largest_fight_n, *in.force_limit_n));
  if (allowed && std::max(from, to) > 0.5 * *allowed) {
    out.steps = 4;
    return say(
        Advice::in_steps,
        "it comes over half of what guides and mountings take: a quarter at a time; after each, with the mean "
        "moved a few millimetres so that friction lets go, compare the fight with the forecast and go no further "
        "where it is higher");
  }
  out.steps = 1;
  say(Advice::one_go, "less than half of what guides and mountings take");
  if (!allowed) out.reason = "no limit is known: watch the fight against the forecast and stop where it is higher";
}

}  // namespace

std::optional<double> allowed_skew_m(std::optional<double> allowable_skew_m,
                                     std::optional<double> allowable_moment_n_m,
                                     const std::optional<base::Estimate>& stiffness, double span_m) {
  if (!allowable_moment_n_m || !stiffness || stiffness->upper <= 0) return allowable_skew_m;
  const double by_moment = *allowable_moment_n_m * span_m / stiffness->upper;
  return std::min(allowable_skew_m.value_or(by_moment), by_moment);
}

TakeOut take_out(const TakeOutInput& in) {
  TakeOut out;
  if (!in.turns_freely && !in.yaw_stiffness_n_m_per_rad) {
    out.reason = "the yaw stiffness is not known, so that neither force nor moment can be foreseen";
    return out;
  }
  const std::optional<double> allowed =
      allowed_skew_m(in.allowable_skew_m, in.turns_freely ? std::nullopt : in.allowable_moment_n_m,
                     in.yaw_stiffness_n_m_per_rad, in.span_m);
  forecast(in, out);
  pace(in, allowed, out);
  advise(in, allowed, out);
  return out;
}

std::string to_text(Advice advice) {
  switch (advice) {
    case Advice::not_known:
      return "not known";
    case Advice::nothing:
      return "nothing to take out";
    case Advice::one_go:
      return "in one go";
    case Advice::in_steps:
      return "in steps";
    case Advice::release_end:
      return "release one end first";
    case Advice::refuse:
      return "not to be done";
  }
  return "";
}

}  // namespace evenbeam::homing
