// Servo-off and servo-on played on the virtual gantry: what the station reads is what was true.
#include "readiness/enable_capture.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/sample_plant_test.h"
#include "readiness/ready_station.h"
#include "readiness/sample_machine_test.h"
#include "simulation/closed_loop.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

struct Played {
  recording::Recording recording;
  double released_m = 0, sag_m = 0;  // true
};

// Held `standing_m` off stress-free, off at 1 s, on again at 1.6 s where asked; the reference of before is kept.
Played play(double standing_m, bool on_again, double pull_n = 0) {
  simulation::RunDescription d;
  d.gantry.plant = dynamics::test::rigid_plant();
  d.gantry.plant.stress_free_skew_m = -standing_m;
  for (auto* e : {&d.gantry.effects.a, &d.gantry.effects.b})
    e->count_m = 0.5e-6, e->noise_m = 0.3e-6, e->cable_n = pull_n / 2;
  auto& s = d.loops.common;
  s.period_s = 5e-4, s.peak_force_a_n = s.peak_force_b_n = 2600;
  s.mean = {10, 12000, 0.05, 0, {}}, s.skew = {10, 6000, 0.02, 0, {}};
  d.reference.mean_m.assign(5000, 0.0);
  d.breaks.off_s = 1.0;
  if (on_again) d.breaks.on_s = 1.6;
  const simulation::RunSeries run = simulation::run(d);
  Played out;
  recording::Recording& r = out.recording;
  r.name = "09-servo-off.csv", r.kind = recording::RunKind::enabling, r.period_s = run.period_s,
  r.time_s = run.time_s;
  r.reference_a_m = run.reference_a_m, r.reference_b_m = run.reference_b_m;
  r.position_a_m = run.position_a_m, r.position_b_m = run.position_b_m;
  r.force_a_n = run.force_a_n, r.force_b_n = run.force_b_n;
  for (std::size_t k = 0; k < r.time_s.size(); ++k)
    if (r.time_s[k] >= 1.0 && (!on_again || r.time_s[k] < 1.6)) r.force_a_n[k] = r.force_b_n[k] = 0;
  r.count_a_m = r.count_b_m = 0.5e-6;
  const auto at = [](double t) { return static_cast<std::size_t>(std::lround(t / 5e-4)); };
  const std::size_t before = at(0.99), after = at(on_again ? 1.59 : 2.4);
  out.released_m = run.true_a_m[after] - run.true_b_m[after] - run.true_a_m[before] + run.true_b_m[before];
  out.sag_m = (run.true_a_m[after] + run.true_b_m[after] - run.true_a_m[before] - run.true_b_m[before]) / 2;
  return out;
}

base::StationResult ready(const recording::Recording& r, double allowable_m) {
  const machine::Machine m = sample_machine();
  Sheet sheet = good_sheet(check_sheet(m));
  return ready_station(sheet, m, {r}, {.allowable_skew_m = allowable_m}).result;
}

}  // namespace

TEST_CASE("the skew that lets go at servo-off is read with its size, and held against what the guides take") {
  const Played p = play(3e-4, false);
  CHECK(std::abs(p.released_m) > 1e-4);  // 194 N of fight against 51 N of friction
  const auto captures = enable_captures({p.recording});
  REQUIRE(captures.size() == 1);
  REQUIRE(captures[0].off);
  CHECK_FALSE(captures[0].on);
  CHECK(captures[0].off->at_s == base::test::near(1.0));
  CHECK(std::abs(captures[0].off->released_m - p.released_m) < captures[0].doubt_m + 0.5e-6);
  CHECK(std::abs(captures[0].off->largest_m) >= std::abs(captures[0].off->released_m) - 1e-9);
  CHECK(captures[0].off->fight_before_n == base::test::near(194.4).epsilon(0.3));  // friction takes its part
  const auto within = ready(p.recording, 1e-3), beyond = ready(p.recording, 1e-4);
  const auto* f = base::find_finding(within, "skew_released_09_servo_off");
  REQUIRE(f);
  CHECK(f->verdict == Verdict::pass);
  CHECK(*f->value == base::test::near(captures[0].off->released_m));
  CHECK(base::find_finding(beyond, "skew_released_09_servo_off")->verdict == Verdict::attention);
  CHECK(base::find_finding(within, "off_together_09_servo_off")->verdict == Verdict::pass);
}

TEST_CASE("a reference that is kept over the off time is a jump as large as what let go; free guides make none") {
  const Played kept = play(3e-4, true);
  const auto captures = enable_captures({kept.recording});
  REQUIRE(captures[0].on);
  CHECK(captures[0].on->at_s == base::test::near(1.6).epsilon(1e-3));
  CHECK(*captures[0].on->jump_skew_m == base::test::near(-kept.released_m).epsilon(0.05));
  CHECK(captures[0].on->kick_a_n > 10);
  const auto result = ready(kept.recording, 1e-3);
  CHECK(base::find_finding(result, "take_over_09_servo_off")->verdict == Verdict::attention);
  CHECK(base::find_finding(ready(kept.recording, 5e-5), "take_over_09_servo_off")->verdict == Verdict::stop);
  const Played free = play(0, true);
  const auto quiet = ready(free.recording, 1e-3);
  CHECK(base::find_finding(quiet, "take_over_09_servo_off")->verdict == Verdict::pass);
  CHECK(std::abs(*base::find_finding(quiet, "skew_released_09_servo_off")->value) < 2e-6);
}

TEST_CASE("what pulls the axis moves it once nothing holds it") {
  const Played p = play(0, false, 180);  // against 103 N of friction
  CHECK(std::abs(p.sag_m) > 1e-3);
  const auto result = ready(p.recording, 1e-3);
  const auto* f = base::find_finding(result, "sag_09_servo_off");
  CHECK(f->verdict == Verdict::attention);
  CHECK(*f->value == base::test::near(p.sag_m).epsilon(0.1));
  CHECK(base::find_finding(ready(play(0, false).recording, 1e-3), "sag_09_servo_off")->verdict == Verdict::pass);
}

TEST_CASE("drives that come and go apart are seen; captures that lack a column are left alone") {
  Played p = play(0, true);
  for (std::size_t k = 0; k < p.recording.time_s.size(); ++k)
    if (p.recording.time_s[k] < 1.63 && p.recording.time_s[k] >= 1.6) p.recording.force_b_n[k] = 0;
  const auto result = ready(p.recording, 1e-3);
  CHECK(base::find_finding(result, "on_together_09_servo_off")->verdict == Verdict::attention);
  CHECK(*base::find_finding(result, "on_together_09_servo_off")->value == base::test::near(0.03).epsilon(0.02));
  recording::Recording bare = p.recording;
  bare.force_b_n.clear();
  CHECK(enable_captures({bare}).empty());
  recording::Recording always_on = p.recording;
  for (double& f : always_on.force_a_n) f += 1;
  CHECK(enable_captures({always_on}).empty());
}

TEST_CASE("good captures do not check a sheet: without ready.toml the station stays open, a bad one speaks") {
  const machine::Machine m = sample_machine();
  const Known known{.allowable_skew_m = 1e-4};
  CHECK(ready_station({}, m, {play(0, true).recording}, known).result.verdict == Verdict::not_done);
  CHECK(ready_station({}, m, {play(3e-4, false).recording}, known).result.verdict == Verdict::attention);
}
