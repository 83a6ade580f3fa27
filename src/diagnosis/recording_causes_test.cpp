// Criteria read from one recording or along the rails, on signals whose answer is worked by hand.
#include <doctest/doctest.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "diagnosis/criteria.h"
#include "diagnosis/spring_fit_test.h"

namespace evenbeam::diagnosis {
namespace {

// K/L^2 = 2e6 N/m, s_free = 0, friction 50 N a side.
identification::MotionFit plain_fit() {
  identification::MotionFit fit = spring_fit();
  fit.switch_ons = {{"one", math::with_sd(0, 0)}};
  fit.coulomb_a_n = fit.coulomb_b_n = math::with_sd(50, 1);
  return fit;
}

// A metre at 0.1 m/s, 1 m/s2 at both ends, from t = 0.
double smooth(double t) {
  if (t <= 0) return 0;
  if (t < 0.1) return t * t / 2;
  if (t < 10) return 0.1 * t - 0.005;
  return t < 10.1 ? 1 - (10.1 - t) * (10.1 - t) / 2 : 1;
}

// There and back with rests between, at skew `skew_m` throughout; both sides rub with 50 N, A by spot_n more about
// half way.
struct Jog {
  double skew_m = 0;
  double fight_n_per_m = 0, pull_n = 0, spot_n = 0, pull_n_per_m = 0;
};

recording::Recording jog(const Jog& j) {
  recording::Recording r;
  r.name = "jog.csv";
  r.kind = recording::RunKind::slow_jog;
  r.switch_on = "one";
  r.period_s = 1e-3;
  r.count_a_m = r.count_b_m = 1e-6;
  for (int i = 0; i < 23000; ++i) {
    const double t = 1e-3 * i;
    const double x = smooth(t - 1) - smooth(t - 12);
    const double way = t > 1 && t < 11.1 ? 1 : (t > 12 && t < 22.1 ? -1 : 0);
    const double spot = std::abs(x - 0.5) < 0.02 ? j.spot_n : 0;
    const double d = j.fight_n_per_m * x + 2e6 * j.skew_m;
    r.time_s.push_back(t);
    r.reference_a_m.push_back(x);
    r.reference_b_m.push_back(x);
    r.position_a_m.push_back(x + j.skew_m / 2);
    r.position_b_m.push_back(x - j.skew_m / 2);
    r.force_a_n.push_back(d + (j.pull_n + j.pull_n_per_m * x) / 2 + way * (50 + spot));
    r.force_b_n.push_back(-d + (j.pull_n + j.pull_n_per_m * x) / 2 + way * 50);
  }
  return r;
}

std::vector<Cause> causes_of(const Jog& j) {
  const identification::MotionFit fit = plain_fit();
  return along_x(force_along_x({jog(j)}, fit), fit);
}

}  // namespace

TEST_CASE("a fight of 40 N/m that repeats both ways is 20 um/m at 2e6 N/m; a held skew is none of it") {
  CHECK(causes_of({.skew_m = 30e-6}).empty());
  CHECK(causes_of({.fight_n_per_m = 10}).empty());  // under 0.3 * 50 N over the way
  const auto causes = causes_of({.skew_m = 30e-6, .fight_n_per_m = 40});
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "fight_grows_along_x");
  CHECK(*causes[0].finding.value == base::test::near(40).epsilon(1e-4));
  CHECK(causes[0].finding.text.find("read on A were 20 um longer than one read on B") != std::string::npos);
  CHECK(causes[0].finding.recording == "jog.csv");
}

TEST_CASE(
    "a cable that pulls A 80 N more a metre is in the sum whole and in the fight by half; rails leave the sum "
    "alone") {
  const auto fit = plain_fit();
  const auto of = [&](const Jog& j) { return along_x(force_along_x({jog(j)}, fit), fit); };
  const auto cable = of({.fight_n_per_m = 40, .pull_n_per_m = 80});
  REQUIRE(cable.size() == 1);
  CHECK(cable[0].finding.id == "pull_grows_along_x_a");
  CHECK(*cable[0].finding.value == base::test::near(80).epsilon(0.01));
  CHECK(of({.fight_n_per_m = -40, .pull_n_per_m = 80}).front().finding.id == "pull_grows_along_x_b");
  CHECK(of({.fight_n_per_m = 40}).front().finding.id == "fight_grows_along_x");
}

// A rubs with 70 N and B with 40 N; a fight of 24 N a metre strains both ways, 12 N pull on the bridge whichever way
// it goes, and the skew is held 30 um from where the fit's guides are free (10 um), which its spring explains.
TEST_CASE("the map along x by hand: each way's fight, the pull, and the friction of either side at each place") {
  recording::Recording r = jog({.skew_m = 30e-6});
  for (std::size_t i = 0; i < r.time_s.size(); ++i) {
    const double t = r.time_s[i], x = r.reference_a_m[i];
    const double way = t > 1 && t < 11.1 ? 1 : (t > 12 && t < 22.1 ? -1 : 0);
    const double fight = 24 * x + 2e6 * (30e-6 - 10e-6);
    r.force_a_n[i] = fight + 6 + 70 * way, r.force_b_n[i] = -fight + 6 + 40 * way;
  }
  identification::MotionFit fit = plain_fit();
  fit.x[identification::kFixedCount] = 20;  // 2e6 N/m times 10 um
  const ForceAlongX map = force_along_x({r}, fit);
  CHECK(map.recording == "jog.csv");
  CHECK(map.spring_n_per_m == 2e6);
  REQUIRE(map.x_m.size() == 24);
  for (std::size_t k = 0; k < 24; ++k) {
    CHECK(map.fight_there_n[k] == base::test::near(24 * map.x_m[k] + 15).epsilon(2e-3));
    CHECK(std::abs(map.fight_back_n[k] - (24 * map.x_m[k] - 15)) < 0.05);
    CHECK(map.pull_n[k] == base::test::near(12));
    CHECK(map.friction_a_n[k] == base::test::near(70).epsilon(1e-3));
    CHECK(map.friction_b_n[k] == base::test::near(40).epsilon(1e-3));
    if (k > 0) CHECK(map.x_m[k] - map.x_m[k - 1] == base::test::near((map.x_m[23] - map.x_m[0]) / 23).epsilon(1e-6));
  }
  // From 0.15 s after full speed is reached at 5 mm, each way: 20 mm of one end, and all but those of the other.
  CHECK(map.x_m.front() == base::test::near(0.02 + 0.96 / 48).epsilon(0.05));
  CHECK(map.x_m.back() == base::test::near(0.98 - 0.96 / 48).epsilon(0.01));
  CHECK(friction_of_a_side({}, map) == base::test::near(55).epsilon(1e-3));
  CHECK(friction_of_a_side(fit, map) == 50);
  CHECK(friction_of_a_side({}, {}) == 0);
}

TEST_CASE("without a fit the skew steps give the spring; without those the skew must be held") {
  const identification::MotionFit none;
  recording::Recording step = jog({});
  step.kind = recording::RunKind::skew_step;
  for (std::size_t i = 0; i < step.time_s.size(); ++i) {  // 100 um up and down: 2e6 N/m, 200 N
    const double skew = (i / 1000) % 2 == 0 ? 1e-4 : -1e-4;
    step.position_a_m[i] = skew, step.position_b_m[i] = 0;
    step.force_a_n[i] = 2e6 * skew, step.force_b_n[i] = -2e6 * skew;
  }
  recording::Recording soft = jog({});  // the read skew follows the rails, 40 um a metre, and the forces stay
  for (std::size_t i = 0; i < soft.time_s.size(); ++i) soft.position_a_m[i] += 4e-5 * soft.reference_a_m[i];
  const auto causes = along_x(force_along_x({soft, step}, none), none);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "fight_grows_along_x");
  CHECK(*causes[0].finding.value == base::test::near(-80).epsilon(0.01));
  CHECK(force_along_x({soft}, none).x_m.empty());
  // A skew that is held, wherever, is no spring's.
  const ForceAlongX held = force_along_x({jog({.skew_m = 30e-6, .fight_n_per_m = 40})}, none);
  CHECK(held.x_m.size() >= 8);
  CHECK(held.spring_n_per_m == 0);
  CHECK_FALSE(force_along_x({jog({.fight_n_per_m = 40})}, none).x_m.empty());
}

TEST_CASE("a fight that grows only one way is no strain of rails or scales") {
  recording::Recording r = jog({});
  for (std::size_t i = 0; i < r.time_s.size(); ++i)
    if (r.time_s[i] > 11.5) r.force_a_n[i] += 80 * r.position_a_m[i], r.force_b_n[i] -= 80 * r.position_a_m[i];
  const identification::MotionFit fit = plain_fit();
  CHECK(along_x(force_along_x({r}, fit), fit).empty());
}

TEST_CASE("a pull whichever way it goes, and a spot that rubs 60 N more, are told apart") {
  const auto pulled = causes_of({.pull_n = 80});  // limit half of 50 + 50
  REQUIRE(pulled.size() == 1);
  CHECK(pulled[0].finding.id == "pull_on_the_bridge");
  CHECK(*pulled[0].finding.value == base::test::near(80));
  CHECK(pulled[0].finding.text.find("towards -x") != std::string::npos);
  const auto spot = causes_of({.spot_n = 60});
  REQUIRE(spot.size() == 1);
  CHECK(spot[0].finding.id == "tight_spot_a");
  CHECK(*spot[0].finding.value > 25);  // a place is some 40 mm wide and the spot may lie in two
  CHECK(*spot[0].finding.value <= base::test::near(60));
  CHECK(spot[0].fight_n == base::test::near(*spot[0].finding.value / 2));
  CHECK(causes_of({.spot_n = 12}).empty());
}

TEST_CASE("a step of the reading from one sample to the next is found; a fast move is not one") {
  const identification::MotionFit fit = plain_fit();
  recording::Recording r = jog({});
  CHECK(position_jumps(r, fit).empty());
  for (std::size_t i = 5000; i < r.time_s.size(); ++i) r.position_b_m[i] -= 600e-6;
  const auto causes = position_jumps(r, fit);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "position_jumps_b_jog.csv");
  CHECK(*causes[0].finding.value == base::test::near(-600e-6));
  CHECK(*causes[0].finding.from_s == base::test::near(4.999));
  CHECK(causes[0].fight_n == base::test::near(1200));  // 2e6 N/m
}

// The reading needs four samples either side of a step.
// The jump is seen from seven places, more than 2 in 1,000 of a short capture.
TEST_CASE(
    "a step is found next to a capture's start or its end too, on either side, short or long, from six counts on") {
  const identification::MotionFit fit = plain_fit();
  for (const std::size_t count : {std::size_t{500}, std::size_t{4500}})
    for (const std::size_t at : {std::size_t{4}, count / 2, count - 4})
      for (const bool on_a : {true, false}) {
        recording::Recording r{.name = "short.csv", .kind = recording::RunKind::slow_jog, .period_s = 1e-3};
        r.count_a_m = r.count_b_m = 1e-6;
        for (std::size_t i = 0; i < count; ++i) {
          const double x = 1e-4 * static_cast<double>(i), step = i >= at ? 50e-6 : 0;
          r.time_s.push_back(1e-3 * static_cast<double>(i));
          r.position_a_m.push_back(x + (on_a ? step : 0)), r.position_b_m.push_back(x + (on_a ? 0 : step));
        }
        CAPTURE(count);
        CAPTURE(at);
        const auto causes = position_jumps(r, fit);
        REQUIRE(causes.size() == 1);
        CHECK(causes[0].finding.id == (on_a ? "position_jumps_a_short.csv" : "position_jumps_b_short.csv"));
        CHECK(*causes[0].finding.value == base::test::near(50e-6));
        CHECK(*causes[0].finding.from_s == base::test::near(r.time_s[at - 1]));
        CHECK(*causes[0].finding.to_s == base::test::near(r.time_s[std::min(at + 4, count - 1)]));
        CHECK(causes[0].fight_n == base::test::near(100));
        r.count_a_m = r.count_b_m = 10e-6;  // five counts
        CHECK(position_jumps(r, fit).empty());
      }
}

TEST_CASE("a swing of 20 um at 5 Hz at rest is hunting; noise of the same size is not") {
  recording::Recording r = jog({});
  std::uint32_t state = 1;
  for (std::size_t i = 0; i < r.time_s.size(); ++i)
    if (r.time_s[i] > 22.1) r.position_a_m[i] += 10e-6 * std::sin(2 * std::numbers::pi * 5 * r.time_s[i]);
  CHECK(hunting(r).empty());  // the 0.6 s left after settling hold six half swings
  recording::Recording still = jog({}), noisy = still;
  for (std::size_t i = 0; i < still.time_s.size(); ++i) {
    state = state * 1664525U + 1013904223U;
    still.reference_a_m[i] = still.reference_b_m[i] = 0;
    still.position_a_m[i] = 10e-6 * std::sin(2 * std::numbers::pi * 5 * still.time_s[i]);
    still.position_b_m[i] = 0;
    noisy.reference_a_m[i] = noisy.reference_b_m[i] = 0;
    noisy.position_a_m[i] = 10e-6 * (static_cast<double>(state >> 16) / 32768.0 - 1);
    noisy.position_b_m[i] = 0;
  }
  const auto causes = hunting(still);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(20e-6).epsilon(1e-3));
  CHECK(causes[0].finding.text.find("at 5.0 Hz") != std::string::npos);
  CHECK(hunting(noisy).empty());
  // References that stand apart stand; and a beat that wanders by a tenth is still one.
  for (double& x : still.reference_b_m) x = 1e-3;
  for (std::size_t i = 0; i < still.time_s.size(); ++i) {
    const double t = still.time_s[i], turn = 2 * std::numbers::pi * 5 * t + std::sin(2 * std::numbers::pi * 0.5 * t);
    still.position_a_m[i] = 10e-6 * std::sin(turn);
  }
  const auto wandering = hunting(still);
  REQUIRE(wandering.size() == 1);
  CHECK(wandering[0].finding.text.find("at 5.0 Hz") != std::string::npos);
}

// After a move the bridge may ring: 40 Hz, 50 um at first, gone within the 0.3 s in which it settles. From there on a
// swing counts, and of at least six counts of the coarser side.
TEST_CASE("what rings down after a move is no hunting, nor is a swing of few counts of either side") {
  const auto rest = [](double late_m, double count_a_m, double count_b_m) {
    recording::Recording r = jog({});
    r.count_a_m = count_a_m, r.count_b_m = count_b_m;
    for (std::size_t i = 0; i < r.time_s.size(); ++i) {
      const double after = r.time_s[i] - 22.1, turn = 2 * std::numbers::pi * 40 * after;
      if (after > 0 && after < 0.3) r.position_a_m[i] += 50e-6 * std::exp(-after / 0.05) * std::cos(turn);
      if (after >= 0.3) r.position_b_m[i] += late_m / 2 * std::sin(turn);
    }
    return hunting(r);
  };
  CHECK(rest(0, 1e-6, 1e-6).empty());
  const auto late = rest(20e-6, 1e-6, 1e-6);
  REQUIRE(late.size() == 1);
  CHECK(*late[0].finding.value == base::test::near(20e-6).epsilon(0.02));
  CHECK(*late[0].finding.from_s == base::test::near(22.4).epsilon(1e-4));
  CHECK(rest(20e-6, 1e-6, 4e-6).empty());
  CHECK(rest(20e-6, 4e-6, 1e-6).empty());
}

TEST_CASE("two references that part by 50 um in one move are found, a constant offset is not") {
  const identification::MotionFit fit = plain_fit();
  recording::Recording r = jog({});
  for (double& x : r.reference_b_m) x += 1e-3;
  CHECK(commands_apart(r, fit).empty());
  for (std::size_t i = 0; i < r.time_s.size(); ++i) r.reference_b_m[i] += 50e-6 * r.reference_a_m[i];
  const auto causes = commands_apart(r, fit);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(50e-6));
  CHECK(causes[0].fight_n == base::test::near(100));
}

TEST_CASE("drives of 10 and 8 N/um are 20 % apart, and named only where the interval is clear of zero") {
  identification::GreyFit grey;
  grey.done = grey.drives_seen = true;
  grey.parameters.resize(identification::kGreyCount);
  grey.parameters[identification::kGreyStiffnessA] = math::with_sd(1e7, 2e5);
  grey.parameters[identification::kGreyStiffnessB] = math::with_sd(8e6, 2e5);
  const auto causes = unequal_drives(grey);
  REQUIRE(causes.size() == 1);
  CHECK(*causes[0].finding.value == base::test::near(-0.2));
  // 0.8 sqrt(0.02^2 + 0.025^2) = 0.0256
  CHECK(*causes[0].finding.upper == base::test::near(-0.2 + 1.96 * 0.025612).epsilon(1e-3));
  grey.parameters[identification::kGreyStiffnessB] = math::with_sd(8e6, 1.2e6);
  CHECK(unequal_drives(grey).empty());
  CHECK(unequal_drives({}).empty());
}

TEST_CASE("a shift of sampling that the import suspects is passed on as a cause, once") {
  recording::Recording r = jog({});
  CHECK(suspected_sampling(r).empty());
  r.findings.push_back(
      {.id = "import_time_shift_suspected", .verdict = base::Verdict::attention, .text = "suspected"});
  const auto causes = suspected_sampling(r);
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "unequal_sampling_suspected_jog.csv");
  CHECK(causes[0].finding.text == "suspected");
}

TEST_CASE("what other stations found is gathered where it names a cause, and a stop stays theirs") {
  const base::StationResult nudge{
      .name = "nudge",
      .findings = {{.id = "crossed", .verdict = base::Verdict::stop, .text = "Swap them."},
                   {.id = "strength", .verdict = base::Verdict::pass},
                   {.id = "spring_back", .verdict = base::Verdict::attention}}};
  const auto causes = told_by_stations({nudge});
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "nudge_crossed");
  CHECK(causes[0].finding.verdict == base::Verdict::attention);
  CHECK(causes[0].finding.text == "Station nudge: Swap them.");
}

TEST_CASE("a side left to neither force nor brake at a switch-on stands here, by the delays that ready was told") {
  const base::StationResult ready{.name = "ready",
                                  .findings = {{.id = "enable_order", .verdict = base::Verdict::stop, .text = "free"},
                                               {.id = "disable_order", .verdict = base::Verdict::pass}}};
  const auto causes = told_by_stations({ready});
  REQUIRE(causes.size() == 1);
  CHECK(causes[0].finding.id == "ready_enable_order");
  CHECK(causes[0].finding.verdict == base::Verdict::attention);
}

}  // namespace evenbeam::diagnosis
