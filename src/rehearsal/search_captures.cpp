#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "rehearsal/capture_runs.h"

namespace evenbeam::rehearsal {
namespace {

using recording::RunKind;
using simulation::RunDescription;

// The raw reading where the true end passes the mark, between two periods; NaN before.
std::vector<double> latch(const std::vector<double>& true_m, const std::vector<double>& read_m, double mark_m,
                          double count_m) {
  std::vector<double> out(true_m.size(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t k = 1; k < true_m.size(); ++k) {
    if (!std::isnan(out[k - 1])) {
      out[k] = out[k - 1];
    } else if (true_m[k - 1] < mark_m && true_m[k] >= mark_m) {
      const double part = (mark_m - true_m[k - 1]) / (true_m[k] - true_m[k - 1]);
      out[k] = count_m * std::round((read_m[k - 1] + part * (read_m[k] - read_m[k - 1])) / count_m);
    }
  }
  return out;
}

// What is wrong with the mark of one side in the search of this number.
void break_mark(std::vector<double>& latched, const SideCapture& c, int number, Draw& draw) {
  double normal = -6;  // twelve even draws: mean 6, standard deviation 1
  for (int i = 0; i < 12; ++i) normal += draw.between(0, 1);
  const bool second = number % 2 == 0;
  const double off = c.mark_off_m + (second ? c.mark_off_every_second_m : 0) + c.mark_scatter_m * normal;
  const bool missing = c.mark_missing || (second && c.mark_missing_every_second);
  for (double& x : latched) x = missing ? std::numeric_limits<double>::quiet_NaN() : x + off;
}

}  // namespace

SimulatedCapture search_capture(const CaptureInput& in, int number) {
  SimulatedCapture c = begin(in, fmt::format("05-search-{}.csv", number), RunKind::search,
                             "switched on at another place and rack; search forward, both sides held together");
  c.switch_on = fmt::format("search {}", number);
  Draw draw(in.seed, 50 + static_cast<std::uint64_t>(number));
  const dynamics::Plant& p = in.machine.gantry.plant;
  const TrueMarks marks = marks_of(in);
  const Target wrong = broken_in(in, Take::search);
  const double start = std::min(marks.a_m, marks.b_m) - draw.between(0.01, 0.03);
  RunDescription d = closed(in, c, in.machine.loops, "soft", 50 + static_cast<std::uint64_t>(number));
  d.start_mean_m = start;
  d.start_skew_m = p.stress_free_skew_m + draw.between(-0.8, 0.8) * held_skew_m(p) * wrong.rack_factor;
  const double way = std::max(marks.a_m, marks.b_m) - start + 0.01, speed = in.amounts.search_m_per_s;
  d.reference.mean_m = creep(in, speed, 0.2, way / speed);  // counted from the start
  c.series = run_broken(in, Take::search, d);
  c.zero_a_m = start + d.start_skew_m / 2, c.zero_b_m = start - d.start_skew_m / 2;
  c.latched_a_m = latch(c.series.true_a_m, c.series.position_a_m, marks.a_m, wrong.gantry.effects.a.count_m);
  c.latched_b_m = latch(c.series.true_b_m, c.series.position_b_m, marks.b_m, wrong.gantry.effects.b.count_m);
  Draw scatter(in.seed, 90 + static_cast<std::uint64_t>(number));
  break_mark(c.latched_a_m, wrong.capture_a, number, scatter);
  break_mark(c.latched_b_m, wrong.capture_b, number, scatter);
  return c;
}

}  // namespace evenbeam::rehearsal
