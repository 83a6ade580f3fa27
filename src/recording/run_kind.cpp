#include "recording/run_kind.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "recording/excitation.h"
#include "recording/motion.h"

namespace evenbeam::recording {
namespace {

struct Verdict {
  RunKind kind = RunKind::unknown;
  std::string reason;
  Excited excited = Excited::unknown;
  double excitation_period_s = 0;
};
using Answer = std::optional<Verdict>;

// Both axes commanded round a circle: as far across as along, and most samples near one radius.
Answer as_circle(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_cross_axis(r) || !has_references(r)) return std::nullopt;
  constexpr double alike = 0.05, near = 0.02;
  const double across_m = range_of(r.reference_y_m), along_m = motion.reference_travel_m;
  if (across_m <= 50 * motion.count_m || std::abs(across_m - along_m) > alike * across_m) return std::nullopt;
  const auto middle = [](const std::vector<double>& x) {
    const auto [low, high] = std::minmax_element(x.begin(), x.end());
    return 0.5 * (*low + *high);
  };
  const double x_m = middle(r.reference_a_m), y_m = middle(r.reference_y_m);
  std::size_t on_circle = 0;
  for (std::size_t k = 0; k < r.reference_a_m.size(); ++k)
    on_circle +=
        std::abs(std::hypot(r.reference_a_m[k] - x_m, r.reference_y_m[k] - y_m) - across_m / 2) < near * across_m / 2;
  if (2 * on_circle < r.reference_a_m.size()) return std::nullopt;
  return Verdict{RunKind::circle, fmt::format("both axes are commanded round a circle of {:.4g} m", across_m)};
}

// Loops open: the outputs are a few constant levels, zero between, and no reference moves.
Answer as_nudge(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_forces(r) || motion.reference_travel_m > 4 * motion.count_m) return std::nullopt;
  const Pulses a = pulses_of(r.force_a_n), b = pulses_of(r.force_b_n);
  if (!a.flat || !b.flat || a.count + b.count == 0) return std::nullopt;
  return Verdict{
      RunKind::nudge,
      fmt::format("no reference moves while the outputs are flat pulses ({} on A, {} on B) with zero between",
                  a.count, b.count)};
}

Answer as_search(const Recording& r, const Motion&, const machine::Machine&) {
  const auto seen = [](const std::vector<double>& x) {
    return std::any_of(x.begin(), x.end(), [](double v) { return std::isfinite(v); });
  };
  if (r.latched_a_m.empty() && r.latched_b_m.empty()) return std::nullopt;
  const bool a = seen(r.latched_a_m), b = seen(r.latched_b_m);
  const char* const which = a && b ? "both marks are latched on the way"
                            : a    ? "A's mark is latched on the way, B's is not"
                            : b    ? "B's mark is latched on the way, A's is not"
                                   : "there are columns for latched marks, and none was seen";
  return Verdict{RunKind::search, which};
}

Answer as_one_side(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (r.position_a_m.empty() != r.position_b_m.empty())
    return Verdict{RunKind::one_side, fmt::format("only side {} has a position", r.position_b_m.empty() ? "A" : "B")};
  const double a = range_of(r.position_a_m), b = range_of(r.position_b_m);
  const bool a_alone = a > 2e-3 && b <= 4 * motion.count_m, b_alone = b > 2e-3 && a <= 4 * motion.count_m;
  if (!a_alone && !b_alone) return std::nullopt;
  return Verdict{RunKind::one_side, fmt::format("{} moves {:.3g} mm and {} stays within four counts",
                                                a_alone ? "A" : "B", 1e3 * std::max(a, b), a_alone ? "B" : "A")};
}

// An output that is exactly zero from some moment to the end, although the bridge was moving then.
Answer as_fault(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_forces(r) || motion.top_speed_m_per_s <= 0) return std::nullopt;
  const std::size_t last_a = last_nonzero(r.force_a_n), last_b = last_nonzero(r.force_b_n);
  const std::size_t last = std::min(last_a, last_b);
  constexpr std::size_t held = 5;  // zeros in a row that are no coincidence
  if (last + held >= r.time_s.size()) return std::nullopt;
  if (std::abs(motion.speed_at(last)) < 0.1 * motion.top_speed_m_per_s) return std::nullopt;
  const char* const which = last_a == last_b  ? "both outputs go"
                            : last_a < last_b ? "the output of A goes"
                                              : "the output of B goes";
  return Verdict{RunKind::fault,
                 fmt::format("{} to zero at {:.4g} s while the bridge moves at {:.3g} m/s, and stays there", which,
                             r.time_s[last + 1], std::abs(motion.speed_at(last)))};
}

// Where outputs that were there become exactly zero and stay so for a while (off), or come on after such a while.
struct Switched {
  std::optional<std::size_t> off, on;  // first sample of the new state
};
Switched switched(const Recording& r) {
  const auto held = static_cast<std::size_t>(std::max(20.0, r.period_s > 0 ? 0.02 / r.period_s : 20.0));
  Switched out;
  std::size_t zeros = 0;
  for (std::size_t k = 0; k < r.time_s.size(); ++k) {
    const bool zero = r.force_a_n[k] == 0 && r.force_b_n[k] == 0;
    if (zero && ++zeros == held && k >= held && !out.off) out.off = k + 1 - held;
    if (!zero && zeros >= held) out.on = k;
    if (!zero) zeros = 0;
  }
  return out;
}

bool nearly_rests(const Motion& motion) {
  constexpr double way_m = 5e-3;  // an axis that drops a little while nothing holds it still counts
  return motion.travel_m < way_m && motion.reference_travel_m < way_m;
}

// Off after something was held, and the bridge or its reference gives way then: no closed loop does that.
Answer as_servo_off(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_forces(r) || !has_positions(r) || !nearly_rests(motion)) return std::nullopt;
  const Switched at = switched(r);
  if (!at.off || *at.off == 0) return std::nullopt;
  const std::size_t to = at.on && *at.on > *at.off ? *at.on : r.time_s.size();
  const double before = r.position_a_m[*at.off - 1] - r.position_b_m[*at.off - 1];
  const double after = r.position_a_m[to - 1] - r.position_b_m[to - 1];
  if (!(std::abs(after - before) > 3 * motion.count_m)) return std::nullopt;
  return Verdict{RunKind::enabling,
                 fmt::format("at rest, both outputs go to zero at {:.4g} s and the skew changes by "
                             "{:.3g} um until {:.4g} s",
                             r.time_s[*at.off], 1e6 * std::abs(after - before), r.time_s[to - 1])};
}

Answer as_enabling(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_forces(r) || !has_positions(r) || !nearly_rests(motion)) return std::nullopt;
  const Switched at = switched(r);
  if (!at.off && !at.on) return std::nullopt;
  const std::size_t k = at.off ? *at.off : *at.on;
  return Verdict{RunKind::enabling,
                 fmt::format("at rest, both outputs {} at {:.4g} s",
                             at.off ? "go to exactly zero" : "come on after exactly zero", r.time_s[k])};
}

Answer as_skew_step(const Recording& r, const Motion& motion, const machine::Machine&) {
  if (!has_references(r)) return std::nullopt;
  const double skew = range_of(difference(r.reference_a_m, r.reference_b_m));
  if (skew < 10 * motion.count_m || motion.reference_travel_m > 2 * skew) return std::nullopt;
  return Verdict{RunKind::skew_step,
                 fmt::format("the references part by {:.3g} mm while their mean hardly moves", 1e3 * skew)};
}

Answer as_standstill(const Recording&, const Motion& motion, const machine::Machine&) {
  if (motion.reference_travel_m > 4 * motion.count_m || motion.travel_m > 50 * motion.count_m) return std::nullopt;
  return Verdict{RunKind::standstill, fmt::format("nothing moves by more than {:.3g} um", 1e6 * motion.travel_m)};
}

Answer as_multisine(const Recording& r, const Motion& motion, const machine::Machine& machine) {
  const auto found = find_excitation(r, motion, machine);
  if (!found) return std::nullopt;
  const char* const side = found->excited == Excited::a ? "A" : found->excited == Excited::b ? "B" : "both sides";
  return Verdict{
      RunKind::multisine,
      fmt::format("the outputs repeat every {:.6g} s ({:.0f} % of their fast part) at even speed, stronger on {}",
                  found->period_s, 100 * found->repeated_part, side),
      found->excited, found->period_s};
}

Answer as_move(const Recording&, const Motion& motion, const machine::Machine&) {
  if (motion.travel_m <= 50 * motion.count_m && motion.reference_travel_m <= 4 * motion.count_m) return std::nullopt;
  const bool slow = motion.even_part >= 2.0 / 3;
  return Verdict{slow ? RunKind::slow_jog : RunKind::test_move,
                 fmt::format("moves of {:.3g} m at up to {:.3g} m/s, {:.0f} % of the moving time at even speed",
                             std::max(motion.reference_travel_m, motion.travel_m), motion.top_speed_m_per_s,
                             100 * motion.even_part)};
}

Verdict recognise(const Recording& r, const machine::Machine& machine) {
  const Motion motion = motion_of(r);
  for (const auto& rule : {as_circle, as_nudge, as_search, as_one_side, as_fault, as_servo_off, as_skew_step,
                           as_enabling, as_standstill, as_multisine, as_move})
    if (const Answer answer = rule(r, motion, machine)) return *answer;
  return {RunKind::unknown, "no rule fits the signals", Excited::unknown, 0};
}

}  // namespace

void settle_kind(Recording& r, RecordingPlan& plan, const machine::Machine& machine) {
  // A period that happens to be a turn of the pinion may be ripple; where the person states excitation it is that.
  machine::Machine looked_with = machine;
  if (plan.kind == RunKind::multisine) looked_with.a.lead_m = looked_with.b.lead_m = std::nullopt;
  const Verdict seen = recognise(r, looked_with);
  r.kind = plan.kind.value_or(seen.kind);
  r.kind_reason = !plan.kind            ? seen.reason
                  : r.kind == seen.kind ? "stated in recordings.toml, and the signals agree: " + seen.reason
                                        : fmt::format("stated in recordings.toml; the signals look like {}: {}",
                                                      to_text(seen.kind), seen.reason);
  if (plan.kind && r.kind != seen.kind && seen.kind != RunKind::unknown) {
    base::Finding f;
    f.id = "import_kind_doubtful";
    f.verdict = base::Verdict::attention;
    f.text = fmt::format("recordings.toml says {}; the signals look like {}: {}.", to_text(r.kind),
                         to_text(seen.kind), seen.reason);
    f.recording = r.name;
    f.next = plan.guessed ? "The entry is an earlier guess of the program: delete it, and it is guessed anew."
                          : "Check the entry; what it says is used.";
    r.findings.push_back(f);
  }
  const bool periodic = r.kind == RunKind::multisine;
  r.excited = plan.excited != Excited::unknown ? plan.excited : periodic ? seen.excited : Excited::unknown;
  if (r.first_period_s == 0 && periodic) r.first_period_s = seen.excitation_period_s;
  plan.kind = r.kind;
  plan.kind_reason = seen.reason;
  plan.excited = r.excited;
  if (r.first_period_s > 0) plan.excitation_period_s = r.first_period_s;
}

}  // namespace evenbeam::recording
