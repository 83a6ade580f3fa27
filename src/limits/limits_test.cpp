#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "base/near_test.h"
#include "limits/example_test.h"
#include "limits/limits_station.h"

namespace evenbeam::limits {

namespace {

using test::example;
using test::value_of;

bool unknown(const base::StationOutcome& out, const char* key) {
  const base::Value* value = base::find_value(out.result, key);
  return value && std::holds_alternative<std::monostate>(value->value);
}

}  // namespace

TEST_CASE("arm of the outer carriages by hand") {
  CHECK(lateral_arm_m(1, 0.3) == 0);
  CHECK(lateral_arm_m(2, 0.3) == base::test::near(0.3));
  CHECK(lateral_arm_m(3, 0.3) == base::test::near(0.3));             // the middle one carries nothing
  CHECK(lateral_arm_m(4, 0.3) == base::test::near(0.3 * 10.0 / 9));  // 2/e (2 e^2/4 + 2 e^2/36)
}

TEST_CASE("guide moment by hand, weight and carriage at the end of its travel counted") {
  const machine::Machine m = example();
  const double weight = 9.80665 * (120 * 0.5 + 15 + 40 * (0.5 + 0.6 / 1.6)) / 2;
  const double moment = 2 * (10e3 - weight) * 0.25;
  std::string why;
  CHECK(guide_moment(m, why)->moment_n_m == base::test::near(moment).epsilon(1e-12));
  const Allowable with = allowable(m, base::Estimate{2e6, 1.9e6, 2.2e6});
  CHECK(*with.skew_m == base::test::near(moment * 1.6 / 2.2e6).epsilon(1e-12));
  CHECK(*with.skew_upper_m == base::test::near(moment * 1.6 / 1.9e6).epsilon(1e-12));
  CHECK(with.skew_governs == "guide static safety");
}

TEST_CASE("weight on the worst carriage and on the lighter side, by hand; the couple gives the force back") {
  machine::Machine m = example();
  m.bridge_centre_y_m = 0.2, m.end_mass_b_kg = 25;  // an eighth of the span off
  const StandingLoad load = standing_load(m, 2);
  CHECK(load.per_carriage_n == base::test::near(9.80665 * (120 * 0.625 + 25 + 40 * 0.875) / 2));
  CHECK(load.lighter_side_n == base::test::near(9.80665 * (120 * 0.375 + 15 + 40 * 0.125)));
  CHECK(lateral_force_n(-100, 0.25) == base::test::near(200));  // two rails, each 50 N*m over 0.25 m
  std::string why;
  const auto g = guide_moment(m, why);
  CHECK(lateral_force_n(g->moment_n_m, g->arm_m) == base::test::near(g->lateral_force_n));
}

TEST_CASE("what a push meets, by hand: the lighter end moves most; no faster than a manual mode") {
  machine::Machine m = example();
  m.carriage_mass_kg.reset(), m.end_mass_b_kg = 35;
  // M = 120 + 45 + 65, S = (65 - 45) 0.8, J = 120 1.6^2/12 + 110 0.8^2; ends at q = +-0.8 m, the pair at 1.6 m.
  const double mass = 230, moment = 16, inertia = 25.6 + 70.4, det = mass * inertia - moment * moment;
  const auto met = push_inertia(m, {});
  REQUIRE(met);
  CHECK(met->end_per_kg == base::test::near((inertia + 2 * moment * 0.8 + mass * 0.64) / det));
  CHECK(met->pair_per_kg == base::test::near(mass * 2.56 / det));
  CHECK(safe_push(example(), {}, allowable(example(), {})).limits.speed_m_per_s == base::test::near(2.0 / 60));
}

// A second way to the same: the mass matrix of the ends' velocities (docs/equations.md, eq. 4), every centimetre of
// the travel; e_j' W^-1 e_j = W_other/det, and for u = (1, +-1) the three entries over det.
TEST_CASE("what a push meets with the carriage anywhere: ends' velocities instead of mean and yaw") {
  machine::Machine m = example();
  m.carriage_mass_kg = 90, m.carriage_min_y_m = -0.2, m.carriage_max_y_m = 0.7, m.payload_max_kg = 35;
  double end = 0, pair = 0;
  for (int mm = -200; mm <= 700; ++mm)
    for (const double kg : {90.0, 125.0}) {
      const double y = mm / 1000.0, span = 1.6, mass = 210 + kg, s = kg * y / span,
                   j = (83.2 + kg * y * y) / (span * span);
      const double aa = mass / 4 - s + j, bb = mass / 4 + s + j, ab = mass / 4 - j, det = aa * bb - ab * ab;
      end = std::max({end, bb / det, aa / det});
      pair = std::max({pair, (aa + bb - 2 * ab) / det, (aa + bb + 2 * ab) / det});
    }
  const auto met = push_inertia(m, {});
  REQUIRE(met);
  CHECK(met->end_per_kg == base::test::near(end));
  CHECK(met->pair_per_kg == base::test::near(pair));
}

// Nothing fitted: friction is at least 0.002 of the weight on the lighter side, here 120 (0.5 - 0.2/1.6) + 15 + 40
// (0.5 - 0.6/1.6) kg. The less there is, the further a push coasts.
TEST_CASE("friction that nobody measured is two thousandths of the lighter side's weight, and coasting takes it") {
  machine::Machine m = example();
  m.bridge_centre_y_m = 0.2, m.guides.stated_skew_limit_m = 1e-3;
  const Allowable allowed = allowable(m, {});
  const SafePush push = safe_push(m, {}, allowed);
  REQUIRE(push.found);
  REQUIRE(push.push.friction_low_n);
  const double friction = 0.002 * 9.80665 * (45 + 15 + 5);
  CHECK(*push.push.friction_low_n == base::test::near(friction));
  CHECK(push.push.start_skew_m == 0);  // the stiffness is unknown: no skew can be told from it
  // E = (F c T)^2/2 is what friction must eat.
  const double impulse = push.force_n * push.scale_high * std::sqrt(push.push.inertia.pair_per_kg) * push.time_s;
  const double way =
      impulse / 2 * std::sqrt(push.push.inertia.pair_per_kg) * push.time_s + impulse * impulse / (2 * friction);
  REQUIRE(push.bounds.skew_m);
  CHECK(*push.bounds.skew_m == base::test::near(way));
}

TEST_CASE("a push of unknown stiffness may reach twice the span times its force as a moment") {
  const PushCase push{.span_m = 1.6, .inertia = {.pair_per_kg = 0.02, .end_per_kg = 0.01}};
  const PushBounds bounds = push_bounds(push, 100, 0.1);
  CHECK(bounds.moment_n_m == base::test::near(320));
  CHECK(bounds.speed_m_per_s == base::test::near(100 * 0.1 * std::sqrt(0.02) * std::sqrt(0.01)));
  CHECK_FALSE(bounds.skew_m);
}

TEST_CASE("of what the fit knows of both sides the worse end counts, whichever side has it") {
  const base::Estimate little{25, 20, 30}, more{40, 35, 45}, weak{1, 0.98, 1.02}, strong{1.05, 1.02, 1.08};
  for (const bool on_a : {true, false}) {
    LimitsInput in;
    (on_a ? in.coulomb_a_n : in.coulomb_b_n) = little, (on_a ? in.coulomb_b_n : in.coulomb_a_n) = more;
    (on_a ? in.force_scale_a : in.force_scale_b) = strong, (on_a ? in.force_scale_b : in.force_scale_a) = weak;
    in.yaw_stiffness_n_m_per_rad = base::Estimate{1e6, 0.9e6, 1.1e6};
    const SafePush push = safe_push(example(), in, allowable(example(), in.yaw_stiffness_n_m_per_rad));
    CAPTURE(on_a);
    CHECK(*push.push.friction_low_n == 20);
    CHECK(push.scale_high == 1.08);
    CHECK(push.push.start_skew_m == base::test::near(45 * 1.6 * 1.6 / 0.9e6));
  }
}

TEST_CASE("a stiffness that the papers state is doubted by 30 % either way, a fitted one as the fit says") {
  machine::Machine m = example();
  CHECK_FALSE(yaw_stiffness_of(m, std::nullopt));
  m.guides.yaw_stiffness_n_m_per_rad = 2e6;
  const auto stated = yaw_stiffness_of(m, std::nullopt);
  CHECK(stated->lower == base::test::near(1.4e6));
  CHECK(stated->upper == base::test::near(2.6e6));
  CHECK(yaw_stiffness_of(m, base::Estimate{1e6, 0.9e6, 1.2e6})->upper == 1.2e6);
}

TEST_CASE("life: a lateral force that costs a tenth gives nine tenths back, and equal forces cost 2^-p") {
  for (const double p : {ball_life_exponent, roller_life_exponent}) {
    const double lateral = lateral_force_for_life_ratio_n(800, 0.9, p);
    CHECK(life_ratio(800, lateral, p) == base::test::near(0.9).epsilon(1e-12));
    CHECK(life_ratio(800, 800, p) == base::test::near(std::pow(2, -p)).epsilon(1e-12));
  }
}

TEST_CASE("the smallest limit governs and is named") {
  machine::Machine m = example();
  m.guides.stated_skew_limit_m = 1e-4;
  const base::Estimate stiffness{2e6, 1.8e6, 2.2e6};
  Allowable a = allowable(m, stiffness);
  CHECK(a.skew_governs == "stated skew limit");
  CHECK(a.moment_governs == "stated skew limit");
  CHECK(*a.skew_m == 1e-4);
  CHECK(*a.moment_n_m == base::test::near(1e-4 * 1.8e6 / 1.6));
  m.guides.stated_yaw_moment_limit_n_m = 50;
  a = allowable(m, stiffness);
  CHECK(a.skew_governs == "stated yaw moment limit");
  CHECK(*a.moment_n_m == 50);
}

TEST_CASE("pivoted ends: the guide rating says nothing about skew, a stated limit does") {
  machine::Machine m = example();
  m.guides.ends = machine::EndKind::pivoted;
  const auto out = limits_station(m, {.yaw_stiffness_n_m_per_rad = base::exactly(1e5)});
  CHECK(unknown(out, "allowable_skew_m"));
  CHECK(base::find_finding(out.result, "allowable_skew")->verdict == base::Verdict::attention);
  m.guides.stated_skew_limit_m = 2e-3;
  CHECK(value_of(limits_station(m, {}), "allowable_skew_m") == 2e-3);
}

TEST_CASE("drive, joints and reading heads: each governs where it is the smallest, by hand") {
  machine::Machine m = example();
  m.guides = {.ends = machine::EndKind::bolted};
  const base::Estimate stiffness{4e5, 4e5, 4e5};
  const auto governs = [&](double skew_m, double moment_n_m) {
    const Allowable a = allowable(m, stiffness);
    CHECK(*a.skew_m == base::test::near(skew_m));
    CHECK(*a.moment_n_m == base::test::near(moment_n_m));
    CHECK(a.skew_governs == a.moment_governs);
    return a.skew_governs;
  };
  const double span = m.span_m;
  m.guides.drive_force_limit_n = 1000;  // M = L F
  CHECK(governs(1000 * span * span / 4e5, 1000 * span) == "drive and coupling");
  m.guides.joint_moment_limit_n_m = 800;
  CHECK(governs(800 * span / 4e5, 800) == "mountings and joints");
  m.guides.head_turn_limit_rad = 1e-3;
  CHECK(governs(1e-3 * span, 400) == "turn of the reading head");
  m.guides.head_gap_spare_m = 1e-4, m.guides.head_ahead_m = 0.2;
  CHECK(governs(5e-4 * span, 200) == "gap of the reading head");
  m.guides.joint_turn_limit_rad = 2e-4;  // says nothing of bolted ends
  CHECK(governs(5e-4 * span, 200) == "gap of the reading head");
  m.guides.ends = machine::EndKind::flexure;
  CHECK(governs(2e-4 * span, 80) == "turn of the joints");
  m.guides.ends = machine::EndKind::pivoted;  // heads follow their rails
  m.guides.joint_turn_limit_rad = 1.5e-3;
  CHECK(governs(1.5e-3 * span, 600) == "turn of the joints");
}

TEST_CASE("nameplate alone: moment known, skew not, and still a push; the fit adds the skew") {
  const machine::Machine m = example();
  const auto before = limits_station(m, {});
  CHECK(unknown(before, "allowable_skew_m"));
  CHECK(before.result.verdict == base::Verdict::attention);
  CHECK(value_of(before, "push_level") >= 0.05);
  const auto after = limits_station(m, {.yaw_stiffness_n_m_per_rad = base::Estimate{2e6, 1.9e6, 2.1e6}});
  CHECK(value_of(after, "allowable_skew_m") > 0);
  CHECK(after.result.verdict == base::Verdict::pass);
  CHECK(value_of(after, "push_force_n") > 0);
  CHECK(value_of(after, "push_skew_bound_m") < 0.5 * value_of(after, "allowable_skew_m"));
}

TEST_CASE("ten lines of description: nothing to push with is said, not guessed") {
  machine::Machine m;
  m.span_m = 2;
  m.a.peak_force_n = m.b.peak_force_n = 800;
  const auto out = limits_station(m, {});
  CHECK(unknown(out, "push_force_n"));
  CHECK(unknown(out, "allowable_yaw_moment_n_m"));
  CHECK(out.result.verdict == base::Verdict::attention);
}

TEST_CASE("weight beyond the wanted safety stops") {
  machine::Machine m = example();
  m.guides.static_rating_n = 900;
  const auto out = limits_station(m, {});
  CHECK(out.result.verdict == base::Verdict::stop);
}

}  // namespace evenbeam::limits
