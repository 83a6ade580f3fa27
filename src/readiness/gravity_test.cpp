#include "readiness/gravity.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "readiness/racking.h"
#include "readiness/ready_station.h"
#include "readiness/sample_machine_test.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

constexpr double upright = std::numbers::pi / 2;

base::StationResult with_tilt(machine::Machine m, double tilt, double hold) {
  Sheet sheet = good_sheet(check_sheet(m));
  at(sheet, "axis_tilt").value = tilt;
  if (hold > 0) at(sheet, "brake_hold_a").value = at(sheet, "brake_hold_b").value = hold;
  return ready_station(sheet, m, {}).result;
}

}  // namespace

TEST_CASE("gravity: signs and balance") {
  const double g = standard_gravity_m_per_s2;
  const LiftedMass even{100, 0};
  // +x end higher: gravity pulls towards -x, so the sides hold with positive force.
  CHECK(gravity_forces(even, 2, 0.1).a_n > 0);
  CHECK(gravity_forces(even, 2, -0.1).a_n < 0);
  CHECK(gravity_forces(even, 2, 0).a_n == 0);
  CHECK(gravity_forces(even, 2, upright).a_n == base::test::near(50 * g));
  // Mass nearer to B (y > 0): B carries more.
  const LiftedMass near_b{100, 100 * 0.5};
  const SideForces f = gravity_forces(near_b, 2, upright);
  CHECK(f.b_n == base::test::near(75 * g));
  CHECK(f.a_n == base::test::near(25 * g));
  // Put back into the equations: sum, and yaw balance L (F_A - F_B)/2 + y_G W = 0.
  const double w = 100 * g;
  CHECK(f.a_n + f.b_n == base::test::near(w));
  CHECK(2 * (f.a_n - f.b_n) / 2 + 0.5 * w == 0);
  // Mirrored, the sides change places; turned over, the signs change.
  const SideForces mirrored = gravity_forces({100, -50}, 2, upright), over = gravity_forces(near_b, 2, -upright);
  CHECK(mirrored.a_n == base::test::near(f.b_n));
  CHECK(over.b_n == base::test::near(-f.b_n));
}

TEST_CASE("brake hold margin by hand") {
  // Hanging axis: bridge 180, ends 20 each, carriage 60 and payload 20 at y = 0.8 of a 2 m span.
  // M = 300 kg; S = 80 * 0.8 = 64 kg m; y_G/L = 64/300/2 = 0.10667.
  // B: 300 * 9.80665 * (0.5 + 0.10667) = 1784.8 N; A at y = -0.8 the same. Both together 2942.0 N.
  // A turning motor's inertia is not lifted.
  const machine::Machine m = sample_machine();
  const GravityLoad load = gravity_load(m, upright);
  CHECK(load.missing.empty());
  CHECK(load.b_n == base::test::near(1784.81).epsilon(1e-5));
  CHECK(load.a_n == base::test::near(1784.81).epsilon(1e-5));
  CHECK(load.both_n == base::test::near(2941.995).epsilon(1e-6));
  CHECK(hold_margin(3000, load.b_n) == base::test::near(1.68085).epsilon(1e-5));
  const auto good = with_tilt(m, upright, 3000);
  CHECK(*base::find_number(good, "brake_margin_b") == base::test::near(1.68085).epsilon(1e-5));
  CHECK(base::find_finding(good, "brake_margin_b")->verdict == Verdict::pass);
  CHECK(base::find_finding(good, "one_brake_alone")->verdict == Verdict::pass);
  const auto weak = with_tilt(m, upright, 2600);  // 1.457 times
  CHECK(base::find_finding(weak, "brake_margin_b")->verdict == Verdict::stop);
  CHECK(base::find_finding(weak, "one_brake_alone")->verdict == Verdict::attention);
  const auto level = with_tilt(m, 0, 1500);
  CHECK(base::find_finding(level, "brake_margin_a") == nullptr);
  machine::Machine unknown = m;
  unknown.carriage_mass_kg.reset();
  const auto doubt = with_tilt(unknown, upright, 30000);
  CHECK(base::find_finding(doubt, "brake_margin_a")->verdict == Verdict::attention);
  CHECK(base::find_finding(doubt, "brake_margin_a")->text.find("carriage") != std::string::npos);
}

TEST_CASE("without a brake an inclined axis runs away unless friction holds it twice") {
  machine::Machine m = sample_machine();
  m.brake_a = m.brake_b = {};
  // Friction by hand: half of 135 N a side, 135 N together; half of it counts: 67.5 N = 300 g sin(tilt).
  const double tilt = std::asin(67.5 / (300 * standard_gravity_m_per_s2));
  CHECK(base::find_finding(with_tilt(m, 0.99 * tilt, 0), "no_brake")->verdict == Verdict::pass);
  CHECK(base::find_finding(with_tilt(m, -1.01 * tilt, 0), "no_brake")->verdict == Verdict::stop);
}

TEST_CASE("the time one side may push alone, by hand") {
  // Ends and motors at +-1 m: motors 1.5e-3 (2 pi/0.02)^2 = 148.04 kg each. J = 180 * 4/12 + 2 (20 + 148.04)
  // + 60 y^2; smallest with the carriage in the middle: 396.09 kg m^2 (off the middle J - S^2/M grows).
  const machine::Machine m = sample_machine();
  const auto inertia = smallest_racking_inertia_kg_m2(m);
  REQUIRE(inertia);
  CHECK(*inertia == base::test::near(396.09).epsilon(1e-4));
  // s'' = 4 * 2600/(2 * 396.09) = 13.128 m/s^2; t = sqrt(2 * 1.5 mm/s'') = 15.117 ms.
  CHECK(time_to_skew_s(2600, 2, *inertia, 1.5e-3) == base::test::near(15.117e-3).epsilon(1e-4));
  const double t = time_to_skew_s(2600, 2, *inertia, 1.5e-3);
  CHECK(4 * 2600 / (2 * *inertia) * t * t / 2 == base::test::near(1.5e-3));
}
