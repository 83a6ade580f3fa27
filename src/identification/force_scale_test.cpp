// The common scale of force, by hand from hand-made knowledge.
#include "identification/force_scale.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"

namespace evenbeam::identification {
namespace {

using machine::ForceTest;
using machine::Pulled;

machine::Machine papers() {
  machine::Machine m;
  m.span_m = 2;
  m.a.peak_force_n = m.b.peak_force_n = 2600;
  m.a.continuous_force_n = m.b.continuous_force_n = 900;
  return m;
}

// 400 kg in nameplate newtons, known to 0.3 %; A gives 2 % more, B 2 % less; 40 N and 60 N of friction.
MotionFit fitted() {
  MotionFit fit;
  fit.done = true;
  fit.mass_kg = math::with_sd(400, 1.2);
  fit.force_imbalance = math::with_sd(0.02, 0.001);
  fit.coulomb_a_n = math::with_sd(40, 1);
  fit.coulomb_b_n = math::with_sd(60, 1);
  return fit;
}

// 400 N by a cell of 1 % (95 %). The machine gives 0.92 of its nameplate: 400/(0.92 * 1.02) newtons without friction.
ForceTest done(double friction_n) {
  const double output = 400 / (0.92 * 1.02);
  return {.side = Pulled::a,
          .instrument = "load cell",
          .force_n = 400,
          .uncertainty_n = 4,
          .output_before_n = 15,
          .output_n = 15 + output - friction_n,  // creeping along the pull
          .output_back_n = 15 + output + friction_n};
}

}  // namespace

TEST_CASE("a known force met from both ways tells the scale free of friction") {
  const auto g = scale_by_force(done(40), fitted());
  REQUIRE(g);
  CHECK(g->value == base::test::near(0.92).epsilon(1e-12));
  // sqrt((1 %/1.96)^2 + (0.05 * 40 * sqrt 2/426.3)^2 + (0.001/1.02)^2) = 0.8426 %
  CHECK(g->sd / g->value == base::test::near(0.0084264).epsilon(1e-3));
}

TEST_CASE("met from one way only, friction may be anywhere: far wider, and without a fit it tells nothing") {
  ForceTest one = done(0);
  one.output_back_n.reset();
  const auto g = scale_by_force(one, fitted());
  REQUIRE(g);
  // 40 N rectangular twice: 40 sqrt(2/3) = 32.66 N of 426.3 N = 7.66 %
  CHECK(g->sd / g->value == base::test::near(0.07680).epsilon(2e-3));
  CHECK_FALSE(scale_by_force(one, MotionFit{}));
  one.output_n.reset();
  CHECK_FALSE(scale_by_force(one, fitted()));  // planned only
  machine::Machine m = papers();
  ForceTest untold = done(0);
  untold.output_back_n.reset();
  m.force_tests = {untold};
  CHECK(force_scale(MotionFit{}, m).untold.size() == 1);
}

TEST_CASE("the gain told before a test is the gain it then brings") {
  machine::Machine m = papers();
  ForceTest planned = done(40);
  planned.output_n.reset(), planned.output_back_n.reset();
  m.force_tests = {planned};
  const ForceScale before = force_scale(fitted(), m);
  REQUIRE(before.gain);
  CHECK(before.common.value == base::test::near(1));
  CHECK(before.gain->sd_now == base::test::near(0.03));
  m.force_tests = {done(40)};
  const ForceScale after = force_scale(fitted(), m);
  CHECK_FALSE(after.gain);
  CHECK(after.common.sd / after.common.value == base::test::near(before.gain->sd_after).epsilon(0.08));
  CHECK(before.gain->sd_after < 0.5 * before.gain->sd_now);  // 3 % to 0.8 %
  CHECK(before.gain->mass_now == base::test::near(std::hypot(0.03, 0.003)));
  CHECK(before.gain->mass_after == base::test::near(std::hypot(before.gain->sd_after, 0.003)));
}

TEST_CASE("without a test one is proposed, from what the motors give for long; without papers none can be") {
  const ForceScale none = force_scale(fitted(), papers());
  REQUIRE(none.gain);
  CHECK(none.gain->test.find("720 N") != std::string::npos);  // 0.8 * 900
  CHECK(none.gain->sd_after < none.gain->sd_now);
  machine::Machine bare;
  bare.span_m = 2;
  CHECK_FALSE(force_scale(fitted(), bare).gain);
  CHECK_FALSE(force_scale(MotionFit{}, papers()).gain);
}

TEST_CASE("a paper that a known force contradicts is left out, and told") {
  machine::Machine m = papers();
  ForceTest weak = done(40);  // 0.80 of the nameplate: another motor than the papers'
  for (auto* output : {&weak.output_n, &weak.output_back_n}) **output += 400 / 1.02 * (1 / 0.80 - 1 / 0.92);
  m.force_tests = {weak};
  const ForceScale s = force_scale(fitted(), m);
  CHECK(s.left_out == std::vector<std::string>{"nameplate force constants"});
  CHECK(s.disagreement > 3);
  CHECK(s.common.value == base::test::near(0.80).epsilon(1e-9));
  m.force_tests = {done(40)};  // 8 % off: within what a nameplate may be
  CHECK(force_scale(fitted(), m).left_out.empty());
}

TEST_CASE("pulled at the middle, both outputs added: no side's own strength counts") {
  ForceTest both = done(0);
  both.side = Pulled::both;
  both.output_n = 15 + 400 / 0.95 - 100, both.output_back_n = 15 + 400 / 0.95 + 100;
  const auto g = scale_by_force(both, fitted());
  CHECK(g->value == base::test::near(0.95));
  // sqrt((1 %/1.96)^2 + (0.05 * 100 * sqrt 2/421.05)^2) = 1.755 %
  CHECK(g->sd / g->value == base::test::near(0.017553).epsilon(1e-3));
}

}  // namespace evenbeam::identification
