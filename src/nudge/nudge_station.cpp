#include "nudge/nudge_station.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "nudge/drives_alone.h"
#include "nudge/nudge_findings.h"
#include "nudge/wiring.h"

namespace evenbeam::nudge {
namespace {

using base::Value;
using base::Verdict;

constexpr double kPreSliding_m = 20e-6;  // a side that moved less may still stick (common practice, no source)

Value number(const std::optional<double>& value, const char* unit, std::optional<double> lower = {},
             std::optional<double> upper = {}) {
  Value out{.unit = unit, .lower = lower, .upper = upper};
  if (value) out.value = *value;
  return out;
}

Value ratio_value(const identification::MotionFit& fit) {
  constexpr double told = 0.5;  // below it the papers speak, not the recordings (math/estimate.h)
  if (!fit.done || fit.gain_ratio_b_to_a.from_data < told) return {.unit = "1"};
  return number(fit.gain_ratio_b_to_a.value, "1", fit.gain_ratio_b_to_a.lower, fit.gain_ratio_b_to_a.upper);
}

std::vector<Push> all_pushes(const std::vector<recording::Recording>& recordings) {
  std::vector<Push> pushes;
  for (const recording::Recording& r : recordings) {
    if (r.kind != recording::RunKind::nudge) continue;
    const std::vector<Push> found = find_pushes(r);
    pushes.insert(pushes.end(), found.begin(), found.end());
  }
  return pushes;
}

std::optional<double> as_number(const std::optional<int>& sign) {
  return sign ? std::optional<double>(*sign) : std::nullopt;
}

void add_figures(const std::vector<Push>& pushes, base::StationOutcome& out) {
  const recording::Recording* last = nullptr;
  for (const Push& p : pushes) {
    if (p.recording == last) continue;
    last = p.recording;
    out.figures.push_back(push_figure(*last, pushes));
  }
}

// The worst finding; but without signs nothing is passed, however well the strengths agree.
Verdict verdict_of(const std::vector<base::Finding>& findings, const Wiring& wiring) {
  const Verdict worst = base::overall(findings);
  if (worst == Verdict::stop || (wiring.sign_a && wiring.sign_b)) return worst;
  return Verdict::not_done;
}

}  // namespace

Breakaway breakaway(const std::vector<Push>& pushes, PushSide side, const NudgeInput& input) {
  Breakaway out;
  const double scale = input.force_scale ? input.force_scale->value : 1;
  const double e = input.fit.done ? input.fit.force_imbalance.value : 0;
  const double real_per_commanded = scale * (side == PushSide::a ? 1 + e : 1 - e);
  for (const Push& p : pushes) {
    if (p.side != side) continue;
    const double force = std::abs(own_force_n(p)) * real_per_commanded;
    const bool slid = own(p).moved && std::abs(own(p).peak_m) > kPreSliding_m;
    if (slid) out.smallest_moved_n = std::min(out.smallest_moved_n.value_or(force), force);
    if (!own(p).moved) out.largest_still_n = std::max(out.largest_still_n.value_or(force), force);
  }
  out.lower_n = out.largest_still_n.value_or(0);
  out.upper_n = out.smallest_moved_n;
  if (!input.fit.done) return out;
  const math::Estimate& friction = side == PushSide::a ? input.fit.coulomb_a_n : input.fit.coulomb_b_n;
  const double relative = input.force_scale && scale > 0 ? input.force_scale->sd / scale : 0;
  const double half = 1.96 * scale * std::hypot(friction.sd, friction.value * relative);
  const double value = std::max(0.0, scale * friction.value);
  out.contradicts = out.smallest_moved_n && value - half > *out.smallest_moved_n;
  out.value_n = value;
  out.lower_n = std::max(0.0, value - half);
  out.upper_n = value + half;
  if (out.smallest_moved_n && !out.contradicts)
    out.upper_n = std::max(value, std::min(*out.upper_n, *out.smallest_moved_n));
  return out;
}

base::StationOutcome nudge_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const NudgeInput& input) {
  base::StationOutcome out;
  base::StationResult& result = out.result;
  result.name = "nudge";
  const std::vector<Push> pushes = all_pushes(recordings);
  Wiring wiring;
  if (pushes.empty())
    wiring.findings.push_back(no_pushes_finding(recordings));
  else
    wiring = judge_wiring(pushes, count_directions(pushes, recordings), machine);
  result.findings = wiring.findings;
  result.findings.push_back(strength_finding(input));
  if (input.fit.done) result.findings.push_back(friction_finding(input));
  const Breakaway a = breakaway(pushes, PushSide::a, input), b = breakaway(pushes, PushSide::b, input);
  result.findings.push_back(breakaway_finding("A", a, pushes));
  result.findings.push_back(breakaway_finding("B", b, pushes));
  if (wiring.sign_a && wiring.sign_b) result.findings.push_back(spring_back_finding(pushes));
  const DrivesAlone alone = drives_alone(recordings, machine);
  result.findings.push_back(alone_finding(alone));
  result.values = {{"sign_a", number(as_number(wiring.sign_a), "1")},
                   {"sign_b", number(as_number(wiring.sign_b), "1")},
                   {"gain_ratio_b_to_a", ratio_value(input.fit)},
                   {"breakaway_a_n", number(a.value_n, "N", a.lower_n, a.upper_n)},
                   {"breakaway_b_n", number(b.value_n, "N", b.lower_n, b.upper_n)}};
  for (auto& value : alone_values(alone)) result.values.push_back(std::move(value));
  result.verdict = verdict_of(result.findings, wiring);
  add_figures(pushes, out);
  return out;
}

}  // namespace evenbeam::nudge
