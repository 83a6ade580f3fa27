// A search planned with its proof, over random machines as in checks/homing: every way judged, every margin over its
// range, the failing start and the repair where one fails. Must stay under 50 ms a plan.
#include <algorithm>
#include <chrono>
#include <cstdio>

#include "homing/search_plan.h"
#include "math/random.h"

using namespace evenbeam::homing;

int main() {
  evenbeam::math::Random r(1);
  const int plans = 20000;
  double worst_s = 0, all_s = 0;
  int promised = 0;
  for (int i = 0; i < plans; ++i) {
    SearchProblem p{.reference = static_cast<Reference>(i % 7),
                    .start_m = {-80e-3, -r.uniform(1e-3, 60e-3)},
                    .start_skew_m = {-1e-3, r.uniform(0, 2e-3)},
                    .hold_error_m = 0.1e-3,
                    .latch_delay_s = {0, 2e-3},
                    .travel_m = {-0.3, r.uniform(0.01, 0.3)},
                    .allowable_skew_m = 4e-3};
    p.b.mark_m = {r.uniform(-4e-3, 0), 0.1e-3};
    p.pitch_m = 20e-3;
    p.a.edge_m = p.b.edge_m = {-8e-3, -r.uniform(0, 7e-3)};
    p.a.back_off_edge_m = evenbeam::homing::Interval{-90e-3, -88e-3};
    const auto start = std::chrono::steady_clock::now();
    promised += plan_search(p).promised;
    const double took = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
    worst_s = std::max(worst_s, took), all_s += took;
  }
  std::printf("search plan with proof: mean %.4f ms, worst of %d %.3f ms (limit 50 ms); %d promised\n",
              1e3 * all_s / plans, plans, 1e3 * worst_s, promised);
  return worst_s < 0.05 ? 0 : 1;
}
