// One move at two temperatures, and the heat of the motors over the cycle; all by hand.
#include "acceptance/cold_and_warm.h"

#include <doctest/doctest.h>

#include <cmath>

#include "acceptance/prove_findings.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {
namespace {

constexpr double period = 1e-3, speed = 0.5, ramp_s = 0.1;

// Forth and back by 0.5 m; A has `friction_a` newtons, B 60 N; both carry 200 N in the ramps; a fight at rest.
recording::Recording stroke(const std::string& name, std::optional<double> kelvin, double friction_a, double fight) {
  recording::Recording r{.name = name, .kind = recording::RunKind::test_move, .period_s = period};
  r.count_a_m = r.count_b_m = 1e-6, r.temperature_k = kelvin;
  double x = 0, v = 0;
  for (int k = 0; k < 6000; ++k) {
    const double t = std::fmod(k * period, 3.0) - 0.5, sign = k < 3000 ? 1 : -1;
    const double a = t < 0 || t >= 1.1 ? 0 : t < ramp_s ? speed / ramp_s : t < 1.0 ? 0 : -speed / ramp_s;
    v = t < 0 || t >= 1.1 ? 0 : v + sign * a * period;
    x += v * period;
    r.time_s.push_back(k * period);
    r.reference_a_m.push_back(x), r.reference_b_m.push_back(x);
    r.position_a_m.push_back(x + (v != 0 ? 5e-6 : 0)), r.position_b_m.push_back(x);
    const double way = v > 0 ? 1 : v < 0 ? -1 : 0;
    r.force_a_n.push_back(way * friction_a + sign * a * 40 + (way == 0 ? fight : 0));
    r.force_b_n.push_back(way * 60 + sign * a * 40 - (way == 0 ? fight : 0));
  }
  return r;
}

machine::Machine machine_of() {
  machine::Machine m;
  m.span_m = 2;
  m.a.peak_force_n = m.b.peak_force_n = 1000;
  m.a.continuous_force_n = 300, m.b.continuous_force_n = 90;
  return m;
}

base::StationResult proved(const std::vector<recording::Recording>& recordings, const machine::Machine& m) {
  return prove_station(recordings, m, {}).result;
}

const base::Row* row_of(const base::StationResult& r) {
  const base::Value* value = base::find_value(r, "cold_and_warm");
  return value ? &std::get<std::vector<base::Row>>(value->value).front() : nullptr;
}

}  // namespace

TEST_CASE("the same move cold and warm: friction of each side and the fight, by hand") {
  const auto r = proved({stroke("cold.csv", 291, 80, 5), stroke("warm.csv", 303, 48, 30)}, machine_of());
  const base::Row* row = row_of(r);
  REQUIRE(row);
  CHECK(*base::find_number(*row, "change_k") == base::test::near(12));
  CHECK(*base::find_number(*row, "friction_cold_a_n") == base::test::near(80).epsilon(1e-6));
  CHECK(*base::find_number(*row, "friction_warm_a_n") == base::test::near(48).epsilon(1e-6));
  CHECK(*base::find_number(*row, "friction_warm_b_n") == base::test::near(60).epsilon(1e-6));
  CHECK(*base::find_number(*row, "standing_fight_change_n") == base::test::near(25).epsilon(1e-6));
  // Beside 200 N in the ramps: 80 N in cruise become 48 on A and stay 60 on B.
  CHECK(*base::find_number(*row, "rms_force_change_a_n") < -5);
  CHECK(*base::find_number(*row, "rms_force_change_b_n") > 0);  // the fight at rest grows
  const auto* f = base::find_finding(r, "cold_warm_warm");
  REQUIRE(f);
  CHECK(f->verdict == base::Verdict::attention);  // 40 % less friction on A; 25 N over 20 % of 90 N
  CHECK(f->text.find("(much)") != std::string::npos);
  CHECK(*f->limit == base::test::near(18));
  const auto steady = proved({stroke("cold.csv", 291, 80, 5), stroke("warm.csv", 303, 74, 8)}, machine_of());
  CHECK(base::find_finding(steady, "cold_warm_warm")->verdict == base::Verdict::pass);
}

TEST_CASE("skews under other loops are not laid at heat's door") {
  recording::Recording cold = stroke("cold.csv", 291, 80, 5), warm = stroke("warm.csv", 303, 78, 5);
  for (double& x : warm.position_a_m) x *= 1.001;
  const auto alike = proved({cold, warm}, machine_of());
  CHECK(base::find_finding(alike, "cold_warm_warm")->verdict == base::Verdict::attention);
  cold.loops = machine::Settings{.period_s = 1e-3};
  warm.loops = machine::Settings{.period_s = 1e-3};
  warm.loops->skew.position_gain_per_s = 20;
  const auto other = proved({cold, warm}, machine_of());
  CHECK(base::find_finding(other, "cold_warm_warm")->verdict == base::Verdict::pass);
  CHECK(base::find_finding(other, "cold_warm_warm")->text.find("the loops differ") != std::string::npos);
}

TEST_CASE("nothing is compared without temperatures, 2 K apart, and one kind of move") {
  CHECK_FALSE(row_of(proved({stroke("a.csv", 291, 80, 5), stroke("b.csv", {}, 48, 5)}, machine_of())));
  CHECK_FALSE(row_of(proved({stroke("a.csv", 291, 80, 5), stroke("b.csv", 292, 48, 5)}, machine_of())));
  recording::Recording elsewhere = stroke("b.csv", 303, 48, 5);
  elsewhere.carriage_y_m = 0.5;
  CHECK_FALSE(row_of(proved({stroke("a.csv", 291, 80, 5), elsewhere}, machine_of())));
  machine::Machine loaded = machine_of();
  loaded.payload_max_kg = 20;
  recording::Recording cold = stroke("a.csv", 291, 80, 5), warm = stroke("b.csv", 303, 48, 5);
  cold.payload_kg = warm.payload_kg = 15;
  CHECK(row_of(proved({cold, warm}, loaded)));
  warm.payload_kg = 10;
  CHECK_FALSE(row_of(proved({cold, warm}, loaded)));
}

TEST_CASE("RMS force over the cycle against what each motor gives for long") {
  machine::Machine m = machine_of();
  const auto r = proved({stroke("cycle.csv", {}, 80, 0)}, m);
  const auto* f = base::find_finding(r, "thermal_cycle");
  REQUIRE(f);
  // Each stroke: 0.1 s at 260 N, 0.9 s at 60 N, 0.1 s at -140 N of 3 s: sqrt((6760 + 3240 + 1960)/3) = 63.1 N of 90
  // N.
  CHECK(*f->value == base::test::near(63.14 / 90).epsilon(0.005));
  CHECK(f->verdict == base::Verdict::pass);
  CHECK(f->text.find("A 24 %") != std::string::npos);  // sqrt((7840 + 5760 + 1440)/3) = 70.8 N of 300 N
  m.b.continuous_force_n = 60;
  CHECK(base::find_finding(proved({stroke("cycle.csv", {}, 80, 0)}, m), "thermal_cycle")->verdict ==
        base::Verdict::attention);
  m.b.continuous_force_n.reset();
  const auto unknown = proved({stroke("cycle.csv", {}, 80, 0)}, m);
  REQUIRE(base::find_finding(unknown, "thermal_rating"));
  CHECK(base::find_finding(unknown, "thermal_rating")->verdict == base::Verdict::not_done);
}

}  // namespace evenbeam::acceptance
