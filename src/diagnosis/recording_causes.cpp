#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "diagnosis/criteria.h"
#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

using base::Verdict;

constexpr double kLimitReached = 0.999;  // of the peak: commands are written with few digits

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

std::vector<Cause> unequal_sampling(const recording::Recording& r, const identification::MotionFit& fit) {
  if (r.b_late_s == 0 || r.time_s.empty()) return {};
  const double false_skew_m = std::abs(r.b_late_s) * recording::motion_of(r).top_speed_m_per_s;
  const double fight_n = fit.done ? std::abs(fit.x[identification::kStiffness]) * false_skew_m : 0;
  return {
      {{.id = "unequal_sampling_" + r.name,
        .verdict = Verdict::attention,
        .text = fmt::format("B was sampled {:.2f} ms {} than A: {:.0f} um of the skew recorded at top speed is not "
                            "there. It is taken out before anything is computed.",
                            1e3 * std::abs(r.b_late_s), r.b_late_s > 0 ? "later" : "earlier", 1e6 * false_skew_m),
        .value = r.b_late_s,
        .unit = "s",
        .source = "recording/time_shift.h: skew against speed",
        .recording = r.name,
        .from_s = r.time_s.front(),
        .to_s = r.time_s.back(),
        .next = "Let both positions be latched in the same cycle. A move at two speeds tells whether the controller "
                "itself reads them apart, or only the recorder: then the sides fight in proportion to speed."},
       fight_n}};
}

}  // namespace evenbeam::diagnosis
