#include "limits/allowable.h"

#include <fmt/format.h>

namespace evenbeam::limits {

namespace {

// Completes moment or skew from the other, on the safe side of the stiffness.
void complete(Candidate& candidate, double span_m, const std::optional<base::Estimate>& stiffness) {
  if (!stiffness) return;
  if (candidate.moment_n_m && !candidate.skew_m && stiffness->upper > 0)
    candidate.skew_m = *candidate.moment_n_m * span_m / stiffness->upper;
  else if (candidate.skew_m && !candidate.moment_n_m && stiffness->lower > 0)
    candidate.moment_n_m = *candidate.skew_m * stiffness->lower / span_m;
}

void add_guides(const machine::Machine& machine, Allowable& out) {
  std::string why_not;
  out.guides = guide_moment(machine, why_not);
  if (machine.guides.ends == machine::EndKind::pivoted) {
    if (!machine.guides.joint_turn_limit_rad)
      out.unknown.push_back(
          "the ends are pivoted, so the guides do not feel the skew: the range of the pivots and of what spans them "
          "limits it (joint_turn_limit, or a stated skew limit)");
    return;
  }
  if (machine.guides.ends == machine::EndKind::unknown)
    out.unknown.push_back("how the bridge is held on its ends is not stated; taken as bolted");
  if (machine.guides.ends == machine::EndKind::flexure && !machine.guides.joint_turn_limit_rad)
    out.unknown.push_back("the flexures' own bending limit is known to their maker only (joint_turn_limit)");
  if (!out.guides) {
    out.unknown.push_back("guide moment: " + why_not);
    return;
  }
  const GuideMoment& g = *out.guides;
  out.candidates.push_back(
      {.name = "guide static safety",
       .moment_n_m = g.moment_n_m,
       .source = fmt::format("static safety f_s {:.3g}{}, C0 {:.3g} kN, weight on a carriage {:.0f} N, arm {:.0f} mm "
                             "(ISO 14728-2, from memory; each rail half, outer carriages decide)",
                             g.static_safety, g.static_safety_assumed ? " assumed" : " as wanted",
                             machine.guides.static_rating_n.value_or(0) * 1e-3, g.standing_force_n, g.arm_m * 1e3)});
  if (g.static_safety_assumed)
    out.unknown.push_back(
        fmt::format("no static safety is stated: f_s = {:.1f} assumed (trade guidance for shock is "
                    "3 to 5, from memory)",
                    g.static_safety));
  for (const std::string& mass : g.missing_masses)
    out.unknown.push_back("the mass of " + mass + " is not stated, so its weight is missing on the carriages");
}

// Drive, joints, reading heads: what their makers state.
void add_parts(const machine::Machine& machine, Allowable& out) {
  const machine::Guides& g = machine.guides;
  const bool pivoted = g.ends == machine::EndKind::pivoted;
  const bool turning = pivoted || g.ends == machine::EndKind::flexure;
  const auto add = [&](const char* name, std::optional<double> moment_n_m, std::optional<double> skew_m,
                       const char* why) {
    if (moment_n_m || skew_m)
      out.candidates.push_back({.name = name,
                                .moment_n_m = moment_n_m,
                                .skew_m = skew_m,
                                .source = fmt::format("machine description: {}", why)});
  };
  const auto times_span = [&](const std::optional<double>& x) {
    return x ? std::optional(*x * machine.span_m) : std::nullopt;
  };
  add("drive and coupling", times_span(g.drive_force_limit_n), std::nullopt,
      "opposed force of a side times the span");
  if (!pivoted) add("mountings and joints", g.joint_moment_limit_n_m, std::nullopt, "moment stated by the maker");
  if (turning) add("turn of the joints", std::nullopt, times_span(g.joint_turn_limit_rad), "angle times the span");
  if (pivoted) return;  // the ends follow their rails, and the heads with them
  add("turn of the reading head", std::nullopt, times_span(g.head_turn_limit_rad), "angle times the span");
  if (g.head_gap_spare_m && g.head_ahead_m)
    add("gap of the reading head", std::nullopt, *g.head_gap_spare_m * machine.span_m / *g.head_ahead_m,
        "spare gap times the span over the head's distance from the end's middle");
  if (!turning && !g.joint_moment_limit_n_m)
    out.unknown.push_back("what moment mountings and joints take (joint_moment_limit)");
  if (!g.head_turn_limit_rad && !(g.head_gap_spare_m && g.head_ahead_m))
    out.unknown.push_back(
        "how far the reading heads may turn or lose gap (head_turn_limit, head_gap_spare, head_ahead)");
}

}  // namespace

std::optional<base::Estimate> yaw_stiffness_of(const machine::Machine& machine,
                                               const std::optional<base::Estimate>& fitted) {
  if (fitted) return fitted;
  const auto& stated = machine.guides.yaw_stiffness_n_m_per_rad;
  if (!stated) return std::nullopt;
  return base::Estimate{*stated, *stated * (1 - stated_stiffness_doubt), *stated * (1 + stated_stiffness_doubt)};
}

Allowable allowable(const machine::Machine& machine, const std::optional<base::Estimate>& yaw_stiffness) {
  Allowable out;
  add_guides(machine, out);
  add_parts(machine, out);
  if (machine.guides.stated_yaw_moment_limit_n_m)
    out.candidates.push_back({.name = "stated yaw moment limit",
                              .moment_n_m = machine.guides.stated_yaw_moment_limit_n_m,
                              .source = "machine description: stated by the builder"});
  if (machine.guides.stated_skew_limit_m)
    out.candidates.push_back({.name = "stated skew limit",
                              .skew_m = machine.guides.stated_skew_limit_m,
                              .source = "machine description: stated by the builder"});
  for (Candidate& candidate : out.candidates) {
    const bool from_moment = candidate.moment_n_m.has_value();
    complete(candidate, machine.span_m, yaw_stiffness);
    if (candidate.moment_n_m && (!out.moment_n_m || *candidate.moment_n_m < *out.moment_n_m)) {
      out.moment_n_m = candidate.moment_n_m;
      out.moment_governs = candidate.name;
    }
    if (candidate.skew_m && (!out.skew_m || *candidate.skew_m < *out.skew_m)) {
      out.skew_m = candidate.skew_m;
      out.skew_governs = candidate.name;
      out.skew_upper_m = from_moment && yaw_stiffness && yaw_stiffness->lower > 0
                             ? *candidate.moment_n_m * machine.span_m / yaw_stiffness->lower
                             : *candidate.skew_m;
    }
  }
  if (!machine.guides.drive_force_limit_n)
    out.unknown.push_back("what opposed force drives and couplings take (drive_force_limit)");
  return out;
}

}  // namespace evenbeam::limits
