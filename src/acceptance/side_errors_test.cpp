// Spectrum, reversal and drift on made-up moves whose answer is known by hand; the plan of moves.
#include "acceptance/side_errors.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "acceptance/move_plan.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {

namespace {

constexpr double period_s = 0.001;

// Rest, 0.2 m forth at 0.5 m/s, rest, back, rest; both references alike. The skew error: `turning` with the sign of
// the speed plus `walking` a second.
recording::Recording there_and_back(double turning_m, double walking_m_per_s) {
  recording::Recording rec;
  rec.name = "made.csv";
  rec.period_s = period_s;
  double place_m = 0;
  const auto add = [&](double seconds, double speed_m_per_s) {
    for (int i = 0; i < int(seconds / period_s); ++i) {
      place_m += speed_m_per_s * period_s;
      const double t = double(rec.time_s.size()) * period_s;
      const double skew_m = (speed_m_per_s > 0 ? 1 : speed_m_per_s < 0 ? -1 : 0) * turning_m + walking_m_per_s * t;
      rec.time_s.push_back(t);
      rec.reference_a_m.push_back(place_m);
      rec.reference_b_m.push_back(place_m);
      rec.position_a_m.push_back(place_m + skew_m / 2);
      rec.position_b_m.push_back(place_m - skew_m / 2);
    }
  };
  add(0.4, 0), add(0.4, 0.5), add(0.4, 0), add(0.4, -0.5), add(0.4, 0);
  return rec;
}

}  // namespace

TEST_CASE("a sine's line carries its root mean square, whatever else is there") {
  std::vector<double> x;
  for (int i = 0; i < 2000; ++i) x.push_back(3e-6 * std::sin(2 * std::numbers::pi * 40 * i * period_s) + 7e-6);
  const Spectrum s = spectrum_of(x, period_s);
  REQUIRE(s.hz.size() == 1000);
  double power = 0;
  for (const double line : s.rms_m) power += line * line;
  CHECK(std::sqrt(power) == base::test::near(3e-6 / std::sqrt(2.0)).epsilon(1e-6));  // Hann spreads, power is kept
  CHECK(s.hz[79] == base::test::near(40.0));
  CHECK(s.rms_m[79] > 0.8 * 3e-6 / std::sqrt(2.0));
}

TEST_CASE("what turns with the direction is reversal, what walks is drift") {
  const machine::Machine machine;
  recording::Recording rec = there_and_back(12e-6, 0);
  MoveMeasures m = measure(rec, machine, 10e-6);
  REQUIRE(m.phases.strokes.size() == 2);
  CHECK(*reversal_skew_m(m) == base::test::near(12e-6).epsilon(1e-3));
  CHECK(std::abs(drift_of(rec, m)->skew_m) < 1e-12);
  rec = there_and_back(0, 5e-6);
  m = measure(rec, machine, 10e-6);
  const auto drift = drift_of(rec, m);
  REQUIRE(drift);
  CHECK(drift->skew_m == base::test::near(5e-6 * drift->over_s).epsilon(1e-2));
  CHECK(drift->over_s == base::test::near(1.6).epsilon(0.02));
  CHECK_FALSE(drift->fight_n);
}

// 0.2 m forth and all but 3 mm back: 1.5 % of the way off is another place, 0.5 % is the same; and the fight that
// grew.
TEST_CASE("drift is told between rests at the same place, within a hundredth of the way") {
  const machine::Machine machine;
  for (const auto& [short_of_m, told] : {std::pair{3e-3, false}, std::pair{1e-3, true}}) {
    recording::Recording rec = there_and_back(0, 5e-6);
    for (std::size_t i = 1200; i < rec.time_s.size(); ++i)  // the way back
      for (auto* column : {&rec.reference_a_m, &rec.reference_b_m, &rec.position_a_m, &rec.position_b_m})
        (*column)[i] += short_of_m * std::min(1.0, (rec.time_s[i] - 1.2) / 0.4);
    for (std::size_t i = 0; i < rec.time_s.size(); ++i)
      rec.force_a_n.push_back(40 + 3 * rec.time_s[i]), rec.force_b_n.push_back(-40 + rec.time_s[i]);
    const auto drift = drift_of(rec, measure(rec, machine, 10e-6));
    CHECK(drift.has_value() == told);
    if (!told) continue;
    CHECK(drift->over_s == base::test::near(1.6).epsilon(0.02));
    REQUIRE(drift->fight_n);
    CHECK(*drift->fight_n == base::test::near(drift->over_s).epsilon(1e-3));  // 3 on A and 1 on B are 1 N/s of fight
  }
}

TEST_CASE("the plan counts a recording for the place and payload it states, and for no other") {
  machine::Machine machine;
  machine.span_m = 2;
  machine.payload_max_kg = 20;
  machine.moves = {{.name = "work", .distance_m = 0.2, .speed_m_per_s = 0.5, .acceleration_m_per_s2 = 4}};
  recording::Recording rec = there_and_back(0, 0);
  const auto judged = [&] {
    return std::vector<JudgedMove>{{.recording = &rec, .measures = measure(rec, machine, 10e-6)}};
  };
  const auto recorded = [&] {
    int count = 0;
    for (const WantedMove& w : move_plan(machine, judged())) count += w.recording.empty() ? 0 : 1;
    return count;
  };
  CHECK(move_plan(machine, judged()).size() == 6);
  CHECK(recorded() == 0);  // the carriage's place is not stated
  rec.carriage_y_m = 0.0;
  CHECK(recorded() == 1);
  rec.carriage_y_m = 0.4;  // between middle and end
  CHECK(recorded() == 0);
  rec.carriage_y_m = machine::carriage_range(machine).max_y_m;
  rec.payload_kg = 20;
  CHECK(recorded() == 1);
  machine.moves[0].speed_m_per_s = 0.8;
  CHECK(recorded() == 0);
  const auto plan = move_plan(machine, judged());
  CHECK(move_plan_finding(machine, plan).verdict == base::Verdict::attention);
  machine.moves.clear();
  CHECK(move_plan(machine, judged()).empty());
}

}  // namespace evenbeam::acceptance
