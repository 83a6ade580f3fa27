#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <utility>

#include "diagnosis/criteria.h"
#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kLimitReached = 0.999;  // of the peak: commands are written with few digits
constexpr double kWithSpeed = 0.3;       // of a side's friction; a proposal, no source
constexpr double kCommandCounts = 3;     // rounding of two references; a proposal, no source

}  // namespace

std::vector<Cause> saturation(const recording::Recording& r, const machine::Machine& machine) {
  std::vector<Cause> out;
  const auto side = [&](const char* name, const char* id, const std::vector<double>& force,
                        const std::optional<double>& peak) {
    if (!peak || *peak <= 0 || force.empty()) return;
    const auto full = [&](double f) { return std::abs(f) >= kLimitReached * *peak; };
    const auto first = std::find_if(force.begin(), force.end(), full);
    if (first == force.end()) return;
    const auto last = std::find_if(force.rbegin(), force.rend(), full).base() - 1;
    const auto count = std::count_if(force.begin(), force.end(), full);
    const double part = static_cast<double>(count) / static_cast<double>(force.size());
    out.push_back(
        {{.id = fmt::format("force_at_limit_{}_{}", id, r.name),
          .verdict = Verdict::attention,
          .text = fmt::format("Side {} asks for its full force in {:.2f} % of the samples; what it lacks "
                              "then turns the bridge.",
                              name, 100 * part),
          .value = part,
          .unit = "1",
          .limit = 0,
          .source = "docs/causes.md; a proposal of practice, no standard",
          .recording = r.name,
          .from_s = r.time_s[static_cast<std::size_t>(first - force.begin())],
          .to_s = r.time_s[static_cast<std::size_t>(last - force.begin())],
          .next = "Lower acceleration, or move the carriage towards the other side; station loops gives the "
                  "share."},
         0});
  };
  side("A", "a", r.force_a_n, machine.a.peak_force_n);
  side("B", "b", r.force_b_n, machine.b.peak_force_n);
  return out;
}

std::vector<Cause> unequal_sampling(const recording::Recording& r, const identification::MotionFit& fit,
                                    double friction_n) {
  if (r.b_late_s == 0 || r.time_s.empty()) return {};
  const double false_skew_m = std::abs(r.b_late_s) * recording::motion_of(r).top_speed_m_per_s;
  const double fight_n = fit.done ? std::abs(fit.x[identification::kStiffness]) * false_skew_m : 0;
  const double with_speed_n = fight_with_speed(r);
  const bool loops_feel_it = std::abs(with_speed_n) > kWithSpeed * friction_n;
  const std::string shift =
      fmt::format("{:.2f} ms {} than A", 1e3 * std::abs(r.b_late_s), r.b_late_s > 0 ? "later" : "earlier");
  Finding f{.id = (loops_feel_it ? "drag_or_late_sampling_" : "unequal_sampling_") + r.name,
            .verdict = Verdict::attention,
            .value = r.b_late_s,
            .unit = "s",
            .source = "recording/time_shift.h: skew against speed",
            .recording = r.name,
            .from_s = r.time_s.front(),
            .to_s = r.time_s.back()};
  if (loops_feel_it) {
    f.text = fmt::format(
        "Skew and fight both go with the speed, {:.0f} um and {:.0f} N at top speed: the loops read B "
        "{}, or {} drags more with speed. These two look the same in this capture.",
        1e6 * false_skew_m, std::abs(with_speed_n), shift, with_speed_n > 0 ? "A" : "B");
    f.next =
        "Make this one: push each side with loops open at three levels and let it coast; a drag slows its side with "
        "no loop closed, late sampling does not. Or latch both positions in one device and compare.";
  } else {
    f.text = fmt::format(
        "B was sampled {}: {:.0f} um of the skew recorded at top speed is not there; the forces know "
        "nothing of it. It is taken out before anything is computed.",
        shift, 1e6 * false_skew_m);
    f.next = "Let both positions be latched in the same cycle of the recorder.";
  }
  return {{std::move(f), fight_n}};
}

std::vector<Cause> suspected_sampling(const recording::Recording& r) {
  for (const base::Finding& noticed : r.findings) {
    if (noticed.id != "import_time_shift_suspected") continue;
    base::Finding f = noticed;
    f.id = "unequal_sampling_suspected_" + r.name;
    f.recording = r.name;
    return {{std::move(f), 0}};
  }
  return {};
}

std::vector<Cause> commands_apart(const recording::Recording& r, const identification::MotionFit& fit) {
  using recording::RunKind;
  const bool one_profile = r.kind == RunKind::test_move || r.kind == RunKind::slow_jog || r.kind == RunKind::search;
  if (!one_profile || !recording::has_references(r)) return {};
  const std::vector<double> apart = recording::difference(r.reference_a_m, r.reference_b_m);
  const double range = recording::range_of(apart), count_m = std::max(r.count_a_m, r.count_b_m);
  const double limit = kCommandCounts * count_m;
  if (!(count_m > 0) || range <= limit) return {};
  const auto [low, high] = std::minmax_element(apart.begin(), apart.end());
  const auto from = static_cast<std::size_t>(std::min(low, high) - apart.begin()),
             to = static_cast<std::size_t>(std::max(low, high) - apart.begin());
  return {
      seen_in(cause("commands_apart_" + r.name, math::with_sd(range, count_m), "m", limit,
                    {fmt::format("The two sides were commanded up to {:.0f} um apart from each other in one move.",
                                 1e6 * range),
                     "See that both references come from one profile in the same cycle: a filter, a delay, a "
                     "compensation table or an old offset on one side alone commands skew."},
                    fit.done ? std::abs(fit.x[identification::kStiffness]) * range : 0),
              r, r.time_s[from], r.time_s[to])};
}

}  // namespace evenbeam::diagnosis
