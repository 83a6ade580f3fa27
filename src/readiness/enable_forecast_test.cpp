// What lets go while nothing holds the bridge: by hand, and against the virtual gantry.
#include "readiness/enable_forecast.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "readiness/gravity.h"
#include "readiness/ready_station.h"
#include "readiness/sample_machine_test.h"
#include "simulation/gantry.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

machine::Machine timed(double force_ready_s, double open_delay_s, double off_delay_s) {
  machine::Machine m = sample_machine();  // brakes close in 40 ms, release in 60 ms
  for (auto* t : {&m.enable_a, &m.enable_b}) *t = {force_ready_s, open_delay_s, off_delay_s};
  return m;
}

base::StationResult ready(const machine::Machine& m, double tilt_rad, const Known& known = {}) {
  Sheet sheet = good_sheet(check_sheet(m));
  at(sheet, "axis_tilt").value = tilt_rad;
  for (const char* line : {"brake_hold_a", "brake_hold_b"}) at(sheet, line).value = 5000;  // strong enough
  for (const char* line : {"free_push_a", "free_push_b"}) at(sheet, line).value = 40;
  return ready_station(sheet, m, {}, known).result;
}

// Rigid, no delay, no damping; both outputs off from the start.
double let_go(double standing_m, double time_s, double friction_n) {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 300, p.fixed_inertia_kg_m2 = 150;
  p.yaw_stiffness_n_m_per_rad = 1e6;
  p.a.coulomb_n = p.b.coulomb_n = friction_n;
  const auto model = simulation::prepare({.plant = p}, 1e-4);
  auto state = simulation::standing(model, 0, standing_m, 1, false);
  for (int k = 0; k < static_cast<int>(std::lround(time_s / 1e-4)); ++k) simulation::advance(model, state, {});
  return standing_m - (simulation::end_a_m(state) - simulation::end_b_m(state));
}

}  // namespace

TEST_CASE("who holds the side: from the delays, by hand") {
  // Brake open 50 + 60 ms after enable, force there after 15 ms: held by both for 95 ms, free never.
  CHECK(*free_at_enable_s({0.015, 0.05, {}}, {{}, {}, 0.06}) == 0);
  CHECK(*free_at_enable_s({0.15, 0.05, {}}, {{}, {}, 0.06}) == base::test::near(0.04));
  CHECK(*free_at_disable_s({{}, {}, 0.1}, {{}, 0.04, {}}) == 0);
  CHECK(*free_at_disable_s({{}, {}, 0.005}, {{}, 0.04, {}}) == base::test::near(0.035));
  CHECK_FALSE(free_at_enable_s({0.15, {}, {}}, {{}, {}, 0.06}));
  CHECK_FALSE(free_at_disable_s({{}, {}, 0.1}, {}));
}

TEST_CASE("what falls, by hand; friction that holds, holds") {
  // 300 kg upright: 2942 N less 60 N of friction, 40 ms: (2882/300) 0.0016/2 = 7.685 mm.
  FreeBridge b{.span_m = 2, .mass_kg = 300, .friction_a_n = 20, .friction_b_n = 40};
  CHECK(fall_m(b, 300 * standard_gravity_m_per_s2, 0.04) == base::test::near(7.6853e-3).epsilon(1e-3));
  CHECK(fall_m(b, 50, 0.04) == 0);
  // A alone, 1500 N at its end, turning about B with 500 kg m^2: s'' = 4 * 1480/500 = 11.84 m/s^2.
  CHECK(racked_m(2, 1500, 20, 500, 0.02) == base::test::near(2.368e-3).epsilon(1e-6));
}

TEST_CASE("inertia about the held end is the parallel-axis sum: carriage near the held side is the smallest") {
  machine::Machine m = sample_machine();
  const auto about_b = inertia_about_end_kg_m2(m, true);
  REQUIRE(about_b);
  // 180 kg beam 180*4/12 + 180*1, end and motor of A at 2 m, carriage at 0.8 m: 0.2 m from B, no payload.
  const double motor = 1.5e-3 * std::pow(2 * 3.141592653589793 / 0.02, 2);
  CHECK(*about_b == base::test::near(60 + 180 + (motor + 20) * 4 + 60 * 0.04).epsilon(1e-9));
  m.bridge_mass_kg.reset();
  CHECK_FALSE(inertia_about_end_kg_m2(m, true));
}

TEST_CASE("the skew that lets go, against the virtual gantry") {
  for (const double friction : {0.0, 30.0})
    for (const double time : {0.005, 0.015, 0.03}) {
      CAPTURE(friction);
      CAPTURE(time);
      // Freed at 0.4 mm: 0.4e-3 K/L^2 = 100 N of fight against 30 N; half a swing lasts 38 ms.
      const FreeBridge b{.span_m = 2,
                         .yaw_stiffness_n_m_per_rad = 1e6,
                         .yaw_inertia_kg_m2 = 150,
                         .friction_a_n = friction,
                         .friction_b_n = friction};
      const double seen = let_go(4e-4, time, friction);
      // Friction grows over 10 um of pre-sliding, so a little more lets go at first: of the 26 um of 5 ms a ninth.
      const double near_by = friction == 0 ? 0.002 : time < 0.01 ? 0.12 : 0.06;
      CHECK(*released_m(b, 4e-4, time) == base::test::near(seen).epsilon(near_by));
      CHECK(*released_at_most_m(b, 4e-4) == base::test::near(2 * (4e-4 - 4 * 2 * friction / 2e6)));
    }
  const FreeBridge held{.span_m = 2, .yaw_stiffness_n_m_per_rad = 1e6, .friction_a_n = 90, .friction_b_n = 120};
  CHECK(*released_at_most_m(held, 4e-4) == 0);  // 105 N of friction hold 100 N
  CHECK_FALSE(released_m(held, 4e-4, 0.01));    // inertia unknown
  CHECK_FALSE(released_at_most_m({.span_m = 2, .friction_a_n = 1}, 4e-4));
}

TEST_CASE("delays that hold pass; on an inclined axis a gap stops the first push, on a level one it is only told") {
  const auto good = ready(timed(0.015, 0.05, 0.1), 1.2);
  CHECK(base::find_finding(good, "enable_order")->verdict == Verdict::pass);
  CHECK(base::find_finding(good, "disable_order")->verdict == Verdict::pass);
  const auto late = ready(timed(0.2, 0.05, 0.1), 1.2);
  const auto* falls = base::find_finding(late, "enable_order");
  CHECK(falls->verdict == Verdict::stop);
  CHECK(*falls->value == base::test::near(0.09));
  CHECK(falls->text.find("falls by") != std::string::npos);
  CHECK(falls->next.find("brake_open_delay") != std::string::npos);
  const auto level = ready(timed(0.2, 0.05, 0.1), 0);
  CHECK(base::find_finding(level, "enable_order")->verdict == Verdict::pass);
  const auto held = ready(timed(0.2, 0.05, 0.1), 0.005);  // 14.7 N of gravity against 40 N of friction that count
  CHECK(base::find_finding(held, "enable_order")->verdict == Verdict::pass);
  CHECK(base::find_finding(held, "enable_order")->text.find("keeps the axis") != std::string::npos);
  const auto early = ready(timed(0.015, 0.05, 0.01), 1.2);
  CHECK(base::find_finding(early, "disable_order")->verdict == Verdict::stop);
}

TEST_CASE("one side free longer than the other racks the bridge") {
  machine::Machine m = timed(0.015, 0.05, 0.1);
  m.enable_b.force_off_delay_s = 0.0;  // B lets go 40 ms before its brake holds
  const auto result = ready(m, 1.2);
  const auto* f = base::find_finding(result, "disable_order");
  CHECK(f->verdict == Verdict::stop);
  CHECK(f->text.find("B alone is free for 40 ms") != std::string::npos);
}

TEST_CASE("delays that are not stated are asked for, and nothing is said to hold") {
  const auto result = ready(sample_machine(), 0);
  CHECK(base::find_finding(result, "enable_order") == nullptr);
  const auto* f = base::find_finding(result, "enable_delays");
  REQUIRE(f);
  CHECK(f->verdict == Verdict::not_done);
  CHECK(f->text.find("force_off_delay") != std::string::npos);
}

TEST_CASE("a reference that is kept is stepped to: the force is told where loops are on record") {
  machine::Machine m = timed(0.015, 0.05, 0.1);
  m.takes_actual_position = false;
  const Known known{.yaw_stiffness_n_m_per_rad = base::exactly(1e6),
                    .yaw_inertia_kg_m2 = base::exactly(150),
                    .coulomb_a_n = base::exactly(30),
                    .coulomb_b_n = base::exactly(30),
                    .allowable_skew_m = 4e-4};
  CHECK(base::find_finding(ready(m, 0, known), "kept_reference")->text.find("how hard is unknown") !=
        std::string::npos);
  recording::Recording r{.name = "06.csv", .kind = recording::RunKind::test_move};
  r.loops = machine::Settings{};
  r.loops->skew.position_gain_per_s = 20, r.loops->skew.velocity_gain_n_s_per_m = 5000;
  r.loops->peak_force_a_n = r.loops->peak_force_b_n = 2600;
  const auto f = [&] {
    const Sheet sheet = good_sheet(check_sheet(m));
    return *base::find_finding(ready_station(sheet, m, {r}, known).result, "kept_reference");
  };
  CHECK(f().text.find("40.0 N on A") != std::string::npos);  // 20 * 5000 * 0.4 mm
  CHECK(f().verdict == Verdict::attention);
  r.loops->skew.velocity_gain_n_s_per_m = 5e5;
  CHECK(f().verdict == Verdict::stop);  // 4000 N of 2600
  m.takes_actual_position = true;
  CHECK(base::find_finding(ready(m, 0, known), "kept_reference") == nullptr);
}
