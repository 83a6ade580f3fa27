#include "rehearsal/consequence.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "rehearsal/bolted_test.h"

using namespace evenbeam;
using namespace evenbeam::rehearsal;

namespace {

using test::bolted;

double mean(const simulation::RunSeries& s, const std::vector<double>& of, double from_s, double to_s) {
  double sum = 0;
  int count = 0;
  for (size_t k = 0; k < s.time_s.size(); ++k)
    if (s.time_s[k] >= from_s && s.time_s[k] < to_s) sum += of[k], ++count;
  return sum / count;
}
double mean_skew(const simulation::RunSeries& s, double from_s, double to_s) {
  return mean(s, s.true_a_m, from_s, to_s) - mean(s, s.true_b_m, from_s, to_s);
}

}  // namespace

TEST_CASE("push of one side of a bolted bridge, by hand") {
  // Both ends slide: a = (F - r_A - r_B)/M; yaw stands: K s/L = L (F/2 - (r_A - r_B)/2) + S a (docs/equations.md).
  const VirtualMachine m = bolted(0.5);
  Amounts amounts;
  amounts.push_n = 400, amounts.push_s = 0.6;
  const double a = (400 - 100) / 200.0, moment = 2 * (200 - 10) + 50 * 0.5 * a;
  const auto series = one_sided_run(m, amounts, OneSided::push, true);
  CHECK(mean_skew(series, 0.55, 0.7) - 0.0001 == base::test::near(moment * 2 / 2e5).epsilon(0.005));
  // The other side pushed: K s/L = L (-F/2 - (r_A - r_B)/2) + S a.
  const double other = 2 * (-200 - 10) + 50 * 0.5 * a;
  CHECK(mean_skew(one_sided_run(m, amounts, OneSided::push, false), 0.55, 0.7) - 0.0001 ==
        base::test::near(other * 2 / 2e5).epsilon(0.005));
}

TEST_CASE("search with a dead side, by hand") {
  // Both ends slide and yaw follows slowly: K s/L = L (F - r_living + r_dead)/2, which at even speed (F = r_A + r_B)
  // is s = L^2 r_dead/K; the soft loops still swing about that.
  const VirtualMachine m = bolted();
  const auto a_alone = one_sided_run(m, {}, OneSided::search_dead, true);
  const double a_n = mean(a_alone, a_alone.force_a_n, 0.7, 1.1);
  CHECK(mean_skew(a_alone, 0.7, 1.1) - 0.0001 == base::test::near(4 * (a_n - 60 + 40) / 2 / 2e5).epsilon(0.01));
  CHECK(mean_skew(a_alone, 0.4, 1.1) - 0.0001 == base::test::near(4 * 40 / 2e5).epsilon(0.1));
  const auto b_alone = one_sided_run(m, {}, OneSided::search_dead, false);
  const double b_n = mean(b_alone, b_alone.force_b_n, 0.7, 1.1);
  CHECK(mean_skew(b_alone, 0.7, 1.1) - 0.0001 == base::test::near(-4 * (b_n - 40 + 60) / 2 / 2e5).epsilon(0.01));
  CHECK(mean_skew(b_alone, 0.4, 1.1) - 0.0001 == base::test::near(-4 * 60 / 2e5).epsilon(0.1));
  const Consequence worse = consequence(m, {}, OneSided::search_dead);
  CHECK(!worse.commanded_a);
  CHECK(worse.moment_n_m == base::test::near(2e5 * worse.skew_m / 2));
  // The dead side's loop winds up against nothing: its command is no force. The living side carries both frictions,
  // and at most half as much again while it gets under way.
  CHECK(worse.force_n > 100);
  CHECK(worse.force_n < 150);
}

TEST_CASE("tied move with the carriage at either end, by hand") {
  // While a is constant and without integral: s (K/L^2 + Kp Kv) = S a/L, share 1/2; the other end mirrors it.
  VirtualMachine m = bolted();
  m.gantry.plant.a.coulomb_n = m.gantry.plant.b.coulomb_n = 0;
  machine::Settings loops = m.loops;
  loops.skew.velocity_integral_s = 0;
  const double stiffness = 2e5 / 4 + loops.skew.position_gain_per_s * loops.skew.velocity_gain_n_s_per_m;
  const TiedMove move{.distance_m = 0.5, .speed_m_per_s = 1, .acceleration_m_per_s2 = 1, .jerk_m_per_s3 = 50};
  for (const double y : {-0.7, 0.7}) {
    const auto series = tied_move(m, loops, move, y);
    CHECK(mean_skew(series, 0.4, 0.65) - 0.0001 == base::test::near(50 * y * 1 / 2 / stiffness).epsilon(0.02));
  }
}

TEST_CASE("a side that jogs against a held one turns the bridge by what loops and guides share") {
  // Both loops pull with Kp Kv of a side (integral growing), the guides with K/L^2 against the skew: below the jog,
  // above the share of the springs at the start.
  const VirtualMachine m = bolted();
  const Consequence c = consequence(m, {}, OneSided::jog_held);
  CHECK(c.skew_m < 0.005 * 1.2);
  CHECK(c.skew_m > 0.0005);
  CHECK(c.force_n > 0);
  VirtualMachine stiff = m;
  stiff.gantry.plant.yaw_stiffness_n_m_per_rad *= 4;
  CHECK(consequence(stiff, {}, OneSided::jog_held).skew_m < c.skew_m);
}

TEST_CASE("every consequence is finite, zero where nothing is driven, and the same again") {
  const VirtualMachine m = bolted(0.3);
  for (int i = 0; i < one_sided_kinds; ++i) {
    const auto kind = static_cast<OneSided>(i);
    CAPTURE(to_text(kind));
    const Consequence first = consequence(m, {}, kind), again = consequence(m, {}, kind);
    CHECK(first.skew_m == again.skew_m);
    CHECK((first.skew_m > 0) == (kind != OneSided::nothing));
    CHECK(!first.what.empty());
  }
}

TEST_CASE("a ten-line machine is rehearsed on, and what was assumed is said") {
  machine::Machine papers;
  papers.span_m = 1.6;
  const VirtualMachine m = virtual_machine(papers);
  CHECK(dynamics::plant_troubles(m.gantry.plant).empty());
  CHECK(m.stiffness_assumed);
  CHECK(m.assumed.size() > 8);
  CHECK(consequence(m, {}, OneSided::dead_in_motion).skew_m > 0);
  papers.guides.yaw_stiffness_n_m_per_rad = 1e6;
  CHECK(!virtual_machine(papers).stiffness_assumed);
  CHECK(virtual_machine(papers).gantry.plant.yaw_stiffness_n_m_per_rad == 1e6);
}

TEST_CASE("what the virtual gantry cannot be is refused with a sentence") {
  machine::Machine m;
  m.span_m = 2;
  m.a.feedback_place = m.b.feedback_place = machine::FeedbackPlace::motor;
  CHECK(!not_in_virtual_gantry(m));
  m.b.feedback_place = machine::FeedbackPlace::load;
  CHECK(not_in_virtual_gantry(m)->find("motor") != std::string::npos);
  m.b.feedback_place = machine::FeedbackPlace::motor;
  m.common_shaft = true;
  CHECK(not_in_virtual_gantry(m)->find("shaft") != std::string::npos);
}

TEST_CASE("a spread holds the value, grows with the doubt, and is what the doubts make of it by hand") {
  VirtualMachine m = bolted();
  const Consequence certain = consequence_in_doubt(m, {}, OneSided::search_dead);
  CHECK(!certain.spread);
  // Standing: s = L^2 r/K. K from 1.6e5 to 2.5e5, the dead A's friction from 50 to 66 N; roots of sums of squares.
  const auto doubt = [&](const char* what, auto set) {
    Doubt one{what, m.gantry.plant, m.gantry.plant};
    set(one.low, one.high);
    m.doubts.push_back(one);
  };
  doubt("yaw stiffness",
        [](auto& low, auto& high) { low.yaw_stiffness_n_m_per_rad = 1.6e5, high.yaw_stiffness_n_m_per_rad = 2.5e5; });
  const Consequence one = consequence_in_doubt(m, {}, OneSided::search_dead);
  REQUIRE(one.spread);
  CHECK(one.skew_m == certain.skew_m);
  CHECK(one.spread->skew_m.upper / one.skew_m == base::test::near(2 / 1.6).epsilon(0.03));
  CHECK(one.spread->skew_m.lower / one.skew_m == base::test::near(2 / 2.5).epsilon(0.03));
  CHECK(one.spread->moment_n_m.upper - one.spread->moment_n_m.lower < 0.1 * one.moment_n_m);  // K s/L = L r
  doubt("friction of A", [](auto& low, auto& high) { low.a.coulomb_n = 50, high.a.coulomb_n = 66; });
  const Consequence both = consequence_in_doubt(m, {}, OneSided::search_dead);
  CHECK(both.spread->skew_m.upper > one.spread->skew_m.upper);
  CHECK(both.spread->skew_m.lower < one.spread->skew_m.lower);
  const double up = std::hypot(one.spread->skew_m.upper - one.skew_m, one.skew_m * 6 / 60);
  CHECK(both.spread->skew_m.upper - one.skew_m == base::test::near(up).epsilon(0.05));
}
