// A fault on the virtual gantry, written down as a capture and read again: what is foretold from plant, loops and
// reference alone must be what the capture shows.
#include "protection/captured_fault.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/near_test.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;
using namespace evenbeam::protection;

namespace {

constexpr double kPeriod_s = 2.5e-4, kFault_s = 0.18, kCross_s = 0.012, kFileStart_s = 7.5;

dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60, p.carriage_y_m = 0.4;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 3e3, p.stress_free_skew_m = 40e-6;
  p.a.coulomb_n = 140, p.b.coulomb_n = 180, p.delay_s = 1e-3;
  return p;
}

machine::Settings loops() {
  machine::Settings s;
  s.period_s = kPeriod_s, s.share = 0.45, s.mass_ff_kg = 220, s.coulomb_ff_a_n = 140, s.coulomb_ff_b_n = 180;
  s.peak_force_a_n = 2500, s.peak_force_b_n = 2000;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}

machine::Machine machine_of() {
  machine::Machine m;
  m.span_m = 2, m.servo_period_s = kPeriod_s;
  m.a.peak_force_n = 2500, m.b.peak_force_n = 2000;
  return m;
}

// 0.4 m out from rest; one side dies in motion and, 12 ms later, the other is switched off.
recording::Recording captured(bool a_first, int every, double at_m = 0.1, double skew_m = 60e-6) {
  simulation::RunDescription d;
  d.gantry.plant = plant();
  d.gantry.effects.a.count_m = d.gantry.effects.b.count_m = 1e-7;
  d.loops.common = loops();
  d.reference = simulation::track({trajectory::plan_move(at_m, 0.4, {1.2, 8, 200})}, 1, kPeriod_s);
  d.reference.skew_m.assign(d.reference.mean_m.size(), skew_m);
  d.counts_from_start = false, d.start_mean_m = at_m, d.start_skew_m = skew_m;
  const auto first = a_first ? simulation::SideName::a : simulation::SideName::b;
  d.faults.push_back({.at_s = kFault_s, .side = first, .broken = {.output_factor = 0}, .gantry = {}});
  d.faults.push_back(
      {.at_s = kFault_s + kCross_s, .side = first, .broken = {.output_factor = 0}, .all_off = true, .gantry = {}});
  d.record_every = every;
  const simulation::RunSeries run = simulation::run(d);
  recording::Recording r{.name = "fault.csv", .period_s = run.period_s};
  for (const double t : run.time_s) r.time_s.push_back(t + kFileStart_s);
  r.reference_a_m = run.reference_a_m, r.reference_b_m = run.reference_b_m;
  r.position_a_m = run.position_a_m, r.position_b_m = run.position_b_m;
  r.force_a_n = run.force_a_n, r.force_b_n = run.force_b_n;
  auto& silent = a_first ? r.force_a_n : r.force_b_n;  // a drive that is dead reports no output
  for (std::size_t i = 0; i < silent.size(); ++i)
    if (run.time_s[i] > kFault_s - kPeriod_s / 2) silent[i] = 0;
  r.carriage_y_m = 0.4, r.payload_kg = 0.0, r.loops = loops();
  r.count_a_m = r.count_b_m = 1e-7;
  return r;
}

}  // namespace

TEST_CASE("a captured fault: instants, side, speed, largest skew and way are those of the run") {
  for (const bool a_first : {true, false}) {
    CAPTURE(a_first);
    const recording::Recording r = captured(a_first, 1);
    const CapturedFault f = captured_fault(r, machine_of(), nullptr, 150e-6);
    REQUIRE(f.found);
    CHECK(f.first_is_a == a_first);
    CHECK(f.fault_s == base::test::near(kFileStart_s + kFault_s).epsilon(1e-4));
    REQUIRE(f.cross_trip_s);
    CHECK(*f.cross_trip_s == base::test::near(kCross_s).epsilon(0.05));
    // Full speed is reached after 1.2/8 + 8/200 = 190 ms; 10 ms earlier 200/2 (0.01)^2 = 10 mm/s are missing, and
    // over the 10 ms before, a mean of 23 more. The bridge lags by what its loops let it.
    CHECK(f.speed_m_per_s == base::test::near(1.2 - 0.01 - 0.013).epsilon(0.02));
    double peak = 0, at_fault = 0;
    std::size_t first_seen = 0;
    for (std::size_t i = 0; i < r.time_s.size(); ++i) {
      if (r.time_s[i] < f.fault_s) continue;
      const double skew = r.position_a_m[i] - r.position_b_m[i];
      if (r.time_s[i] == f.fault_s) at_fault = skew;
      if (first_seen == 0 && std::abs(skew - 60e-6) > 150e-6) first_seen = i;  // from the skew commanded
      if (std::abs(skew - at_fault) > std::abs(peak)) peak = skew - at_fault;
    }
    CHECK(f.peak_skew_m == base::test::near(peak));
    CHECK(f.peak_skew_m * (a_first ? -1 : 1) > 200e-6);  // the side without force falls behind
    REQUIRE(f.seen_s);
    CHECK(*f.seen_s == r.time_s[first_seen]);
    CHECK(f.stood);
    const double way = (r.position_a_m.back() + r.position_b_m.back()) / 2 - 0.1;
    CHECK(f.stop_way_m > 0.1);
    CHECK(f.stop_way_m < way);
    CHECK_FALSE(f.predicted_peak_m);
  }
}

TEST_CASE("foretold from plant, loops and reference: the skew of the capture itself, sample by sample") {
  const dynamics::Plant truth = plant();
  for (const int every : {1, 4})  // every servo period on file, or every fourth
    for (const bool a_first : {true, false}) {
      CAPTURE(every);
      CAPTURE(a_first);
      const recording::Recording r = captured(a_first, every);
      const CapturedFault f = captured_fault(r, machine_of(), &truth, 250e-6);
      REQUIRE(f.predicted_peak_m);
      // Off by what smoothing the reference over twice 4 ms takes from its jerks, and by one sample of the file.
      CHECK(*f.predicted_peak_m == base::test::near(f.peak_skew_m).epsilon(0.05));
      CHECK(std::abs(*f.predicted_at_s - f.peak_at_s) < 3e-3);
      CHECK(f.peak_moment_n_m == base::test::near(4e6 / 2 * f.peak_skew_m));
      REQUIRE(f.predicted_time_s.size() > 500);
      CHECK(f.predicted_time_s.front() == base::test::near(f.fault_s - 0.1).epsilon(1e-4));
      CHECK(f.predicted_time_s.back() <= f.end_s);
      double worst = 0;
      for (std::size_t k = 0; k < f.predicted_time_s.size(); ++k) {
        const double place = (f.predicted_time_s[k] - kFileStart_s) / r.period_s;
        const auto i = std::min(static_cast<std::size_t>(place), r.time_s.size() - 2);
        const double part = place - static_cast<double>(i);
        const double there = r.position_a_m[i] - r.position_b_m[i],
                     next = r.position_a_m[i + 1] - r.position_b_m[i + 1];
        worst = std::max(worst, std::abs(there + part * (next - there) - f.predicted_skew_m[k]));
      }
      CAPTURE(worst);
      CHECK(worst < 0.06 * std::abs(f.peak_skew_m));
    }
}

TEST_CASE("without loops, references or an output that goes, nothing is foretold") {
  const dynamics::Plant truth = plant();
  recording::Recording r = captured(true, 4);
  r.loops.reset();
  CHECK_FALSE(captured_fault(r, machine_of(), &truth, 250e-6).predicted_peak_m);
  recording::Recording bare = captured(true, 4);
  bare.reference_a_m.clear(), bare.reference_b_m.clear();
  CHECK_FALSE(captured_fault(bare, machine_of(), &truth, 250e-6).predicted_peak_m);
  for (double& f : r.force_a_n) f = 10;
  for (double& f : r.force_b_n) f = -10;
  const CapturedFault none = captured_fault(r, machine_of(), &truth, 250e-6);
  CHECK_FALSE(none.found);
  CHECK(none.why_not == "no output goes to nothing");
}
