// The forecast of guide moment and fight while the skew is taken out, against the virtual gantry. No outside number:
// the outside is the gantry, whose friction, damping and loops the forecast does not know.
#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "homing/take_out.h"
#include "homing/take_out_replay.h"
#include "sample_machine.h"

namespace evenbeam::homing {
namespace {

TakeOutInput ramp(double from_m, double to_m) {
  return {.span_m = checks::span_m,
          .from_skew_m = from_m,
          .to_skew_m = to_m,
          .doubt_m = 5e-6,
          .yaw_stiffness_n_m_per_rad = base::exactly(4e5),
          .friction_n = 2 * (checks::coulomb_n + checks::viscous_n_s_per_m * 0.01),
          .allowable_skew_m = 2e-3};
}

}  // namespace

TEST_CASE("the moment at its start and end is the forecast's, and nowhere beyond it") {
  for (const auto& [from_m, to_m] : {std::pair(0.8e-3, 0.0), {-0.8e-3, 0.0}, {0.6e-3, -0.3e-3}, {0.0, 0.7e-3}}) {
    const TakeOutInput in = ramp(from_m, to_m);
    const TakeOut forecast = take_out(in);
    CHECK(forecast.advice == Advice::one_go);
    const TakeOutRun played = play_take_out(in, forecast, checks::sample_machine());
    CAPTURE(from_m);
    CAPTURE(to_m);
    CHECK(std::abs(played.end_skew_m - to_m) < 5e-6);
    CHECK(played.largest_moment_n_m == base::test::near(forecast.largest_moment_n_m).epsilon(0.02));
    CHECK(std::abs(std::abs(played.moment_n_m.back()) - forecast.way.back().moment_high) <
          0.02 * forecast.largest_moment_n_m);
    CHECK(played.largest_fight_n < 1.02 * forecast.largest_fight_n);
  }
}

TEST_CASE("the fight that it takes to bring skew in is the guides' pull and both sides' friction") {
  const TakeOutInput in = ramp(0, 0.7e-3);
  const TakeOut forecast = take_out(in);
  const TakeOutRun played = play_take_out(in, forecast, checks::sample_machine());
  CHECK(played.largest_fight_n == base::test::near(forecast.largest_fight_n).epsilon(0.03));
  // Brought out again friction helps: twice it less.
  const TakeOutInput back = ramp(0.7e-3, 0);
  const TakeOutRun out = play_take_out(back, take_out(back), checks::sample_machine());
  const size_t middle = out.skew_m.size() / 2;
  CHECK(out.fight_n[middle] ==
        base::test::near(4e5 * out.skew_m[middle] / checks::span_m / checks::span_m - *back.friction_n / 2)
            .epsilon(0.05)
            .scale(40));
}

}  // namespace evenbeam::homing
