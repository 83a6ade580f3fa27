#include "limits/limits_station.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "limits/limits_figures.h"

namespace evenbeam::limits {

namespace {

using base::Finding;
using base::Value;
using base::Verdict;

std::string skew_in_words(double skew_m) {
  return std::abs(skew_m) < 1e-3 ? fmt::format("{:.0f} um", skew_m * 1e6) : fmt::format("{:.2f} mm", skew_m * 1e3);
}

Value number(const std::optional<double>& value, const char* unit) {
  Value out{.unit = unit};
  if (value) out.value = *value;
  return out;
}

const Candidate* governing(const Allowable& allowed, const std::string& name) {
  for (const Candidate& candidate : allowed.candidates)
    if (candidate.name == name) return &candidate;
  return nullptr;
}

Finding skew_finding(const Allowable& allowed, const std::optional<base::Estimate>& stiffness) {
  Finding f{.id = "allowable_skew", .verdict = Verdict::attention, .unit = "m"};
  if (!allowed.skew_m) {
    f.text = allowed.moment_n_m ? "The allowable yaw moment is known, but not the skew that goes with it: the yaw "
                                  "stiffness has not been measured yet."
                                : "Neither skew nor yaw moment that the guides and mountings take can be told.";
    f.source = fmt::format("{}", fmt::join(allowed.unknown, "; "));
    f.next = allowed.moment_n_m ? "Record the two excited runs (one on each side's output) so that the fit gives the "
                                  "yaw stiffness, or state yaw_stiffness or skew_limit."
                                : "State carriages, spacing and static rating of the guides, or the builder's skew "
                                  "limit.";
    return f;
  }
  const Candidate* by = governing(allowed, allowed.skew_governs);
  f.verdict = Verdict::pass;
  f.value = allowed.skew_m;
  f.lower = allowed.skew_m;
  f.upper = allowed.skew_upper_m;
  f.source = by ? by->source : "";
  f.text = fmt::format("Up to {} of skew from the stress-free attitude is allowed; the {} governs",
                       skew_in_words(*f.value), allowed.skew_governs);
  f.text +=
      stiffness ? fmt::format(" (yaw stiffness taken at its upper end, {:.3g} N*m/rad).", stiffness->upper) : ".";
  f.next =
      "Set the skew trip below it with the reaction's overshoot counted; static safety and what the joints take "
      "are the builder's to confirm.";
  return f;
}

Finding moment_finding(const Allowable& allowed) {
  Finding f{.id = "allowable_yaw_moment", .verdict = Verdict::pass, .value = allowed.moment_n_m, .unit = "N*m"};
  const Candidate* by = governing(allowed, allowed.moment_governs);
  f.source = by ? by->source : "";
  f.text =
      fmt::format("A yaw moment of {:.0f} N*m about the vertical, both ends together, is allowed; the {} governs.",
                  *allowed.moment_n_m, allowed.moment_governs);
  if (allowed.guides && !(allowed.guides->moment_n_m > 0)) {
    f.verdict = Verdict::stop;
    f.text = "The weight alone uses up the wanted static safety of the guide carriages: nothing is left for skew.";
    f.next = "Check the carriages' rating and the masses stated before anything is moved.";
  }
  return f;
}

// How skew costs life: relative, so the dynamic rating is not needed.
void add_life(const Allowable& allowed, const std::optional<base::Estimate>& stiffness, const machine::Machine& m,
              const LimitsInput& input, base::StationResult& out) {
  constexpr double kept = 0.9;
  const bool felt = m.guides.ends != machine::EndKind::pivoted;
  if (!felt || !allowed.guides || !stiffness || !(allowed.guides->standing_force_n > 0) || stiffness->upper <= 0)
    return;
  const GuideMoment& g = *allowed.guides;
  const double force = lateral_force_for_life_ratio_n(g.standing_force_n, kept, roller_life_exponent);
  const double skew = 2 * force * g.arm_m * m.span_m / stiffness->upper;
  Finding f{.id = "life_at_standing_skew", .verdict = Verdict::pass, .value = skew, .unit = "m"};
  f.source =
      "ISO 14728-1, from memory: life goes with load to the power -3 (balls) or -10/3 (rollers, taken here as "
      "the worse)";
  f.text = fmt::format(
      "A standing skew of {} from the stress-free attitude costs a tenth of the life that the guides have under the "
      "weight alone",
      skew_in_words(skew));
  if (m.guides.dynamic_rating_n)
    f.text += fmt::format(" ({:.0f} km for balls)",
                          nominal_life_km(*m.guides.dynamic_rating_n, g.standing_force_n, ball_life_exponent));
  f.text += ".";
  if (input.standing_skew_m) {
    const double lateral = lateral_force_n(stiffness->upper * *input.standing_skew_m / m.span_m, g.arm_m);
    const double ratio = life_ratio(g.standing_force_n, lateral, roller_life_exponent);
    f.text += fmt::format(" The {} seen at rest leave {:.0f} % of it.",
                          skew_in_words(std::abs(*input.standing_skew_m)), 100 * ratio);
    if (ratio < kept) {
      f.verdict = Verdict::attention;
      f.next = "Home the bridge nearer to its stress-free attitude (station marks) or weigh life against squareness.";
    }
  }
  out.findings.push_back(f);
  out.values.push_back({"standing_skew_for_tenth_of_life_m", number(skew, "m")});
}

std::string practice(const SafePush& push) {
  if (!push.level) return "No peak force is stated, so no level in per cent can be given.";
  const double percent = 100 * *push.level;
  if (percent >= 3)
    return fmt::format(
        "The practice of starting at 2-3 % of peak and raising until it moves lies below this ceiling: "
        "start there and stop at {:.1f} %.",
        percent);
  return fmt::format(
      "The practice of starting at 2-3 % of peak is more than this machine takes for that time: start "
      "at {:.1f} % or less.",
      std::min(percent, 1.0));
}

Finding push_finding(const SafePush& push) {
  Finding f{.id = "safe_push", .verdict = Verdict::attention, .unit = "N"};
  if (!push.found) {
    f.text = "No safe first push can be told: " + push.why_not + ".";
    f.next = push.settled_by;
    return f;
  }
  f.verdict = Verdict::pass;
  f.value = push.force_n;
  f.source =
      "derived: energy bound for any dissipative friction, one side dead or reversed (limits/safe_push.h); "
      "2-3 % of peak is common practice, no source";
  f.text = fmt::format(
      "First push with loops open: at most {:.0f} N a side for {:.0f} ms. Even with the other side dead "
      "or reversed no end gets faster than {:.0f} mm/s and the guides see at most {:.0f} N*m",
      push.force_n, push.time_s * 1e3, push.bounds.speed_m_per_s * 1e3, push.bounds.moment_n_m);
  if (push.limits.skew_m && push.bounds.skew_m)
    f.text += fmt::format(", skew stays under {} of {} ({})", skew_in_words(*push.bounds.skew_m),
                          skew_in_words(*push.limits.skew_m), push.skew_limit_source);
  else
    f.text +=
        "; how far it skews until friction holds it cannot be told before the yaw stiffness is known, but the "
        "yaw moment is bounded for any stiffness";
  if (push.push.start_skew_m > 0)
    f.text += fmt::format(", counting {} of skew that friction may hold at the start",
                          skew_in_words(push.push.start_skew_m));
  f.text += fmt::format("; {} is the first limit met. ", push.binding) + practice(push);
  f.next =
      "Carriage at mid-span, brakes open, hands clear, emergency stop tried first; one side, lowest level first, "
      "wait for rest between pushes.";
  if (push.force_n < push.wanted_force_n) {
    f.verdict = Verdict::attention;
    f.limit = push.wanted_force_n;
    f.text += fmt::format(" It may not be enough to move the bridge ({:.0f} N wanted: {}).", push.wanted_force_n,
                          push.wanted_why);
    f.next += " If nothing moves, do not raise it: look for a held brake or find the yaw stiffness first.";
  }
  return f;
}

Finding way_finding(const SafePush& push, bool friction_fitted) {
  Finding f{.id = "push_way", .verdict = Verdict::pass, .value = push.bounds.way_m, .unit = "m"};
  f.text = fmt::format(
      "Keep {:.0f} mm free on both sides of the bridge before each push: a bridge that runs easily "
      "coasts up to that far.",
      *push.bounds.way_m * 1e3);
  f.source = friction_fitted
                 ? "energy at the end of the push over the friction found"
                 : "energy at the end of the push over a friction of 0.002 of the weight, the low end for "
                   "profile guides (from memory)";
  return f;
}

void add_values(const Allowable& allowed, const SafePush& push, base::StationResult& out) {
  Value skew = number(allowed.skew_m, "m");
  skew.lower = allowed.skew_m;
  skew.upper = allowed.skew_upper_m;
  std::optional<double> force, time, skew_bound, way;
  if (push.found) {
    force = push.force_n;
    time = push.time_s;
    skew_bound = push.bounds.skew_m;
    way = push.bounds.way_m;
  }
  Value governs{.unit = ""};
  if (!allowed.skew_governs.empty()) governs.value = allowed.skew_governs;
  out.values = {{"allowable_skew_m", skew},           {"allowable_yaw_moment_n_m", number(allowed.moment_n_m, "N*m")},
                {"push_force_n", number(force, "N")}, {"push_level", number(push.level, "1")},
                {"push_time_s", number(time, "s")},   {"push_skew_bound_m", number(skew_bound, "m")},
                {"push_way_m", number(way, "m")},     {"skew_governed_by", governs}};
}

}  // namespace

base::StationOutcome limits_station(const machine::Machine& machine, const LimitsInput& input) {
  const auto stiffness = yaw_stiffness_of(machine, input.yaw_stiffness_n_m_per_rad);
  const Allowable allowed = allowable(machine, stiffness);
  const SafePush push = safe_push(machine, input, allowed);
  base::StationOutcome out;
  base::StationResult& result = out.result;
  result.name = "limits";
  add_values(allowed, push, result);
  result.findings.push_back(skew_finding(allowed, stiffness));
  if (allowed.moment_n_m) result.findings.push_back(moment_finding(allowed));
  add_life(allowed, stiffness, machine, input, result);
  result.findings.push_back(push_finding(push));
  if (push.found && push.bounds.way_m)
    result.findings.push_back(way_finding(push, input.coulomb_a_n && input.coulomb_b_n));
  if (!allowed.unknown.empty())
    result.findings.push_back({.id = "limits_not_known",
                               .verdict = Verdict::not_done,
                               .text = fmt::format("Not known: {}.", fmt::join(allowed.unknown, "; ")),
                               .next = "State what the makers say in machine.toml, section guides."});
  result.verdict = base::overall(result.findings);
  if (push.found) out.figures.push_back(push_figure(push, machine));
  if (!allowed.candidates.empty()) out.figures.push_back(ladder_figure(allowed));
  return out;
}

}  // namespace evenbeam::limits
