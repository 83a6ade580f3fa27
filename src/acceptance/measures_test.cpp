#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "acceptance/move_measures.h"
#include "acceptance/prove_figures.h"
#include "base/near_test.h"

namespace evenbeam::acceptance {

namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

// There and back with rests; trapezoid of speed, so that every phase boundary is known in closed form.
struct Move {
  double start_s = 0.3, rest_s = 0.4, distance_m = 0.5, speed = 0.8, acceleration = 4;
  double accelerate_s() const { return speed / acceleration; }
  double cruise_s() const { return distance_m / speed - accelerate_s(); }
  double stroke_s() const { return 2 * accelerate_s() + cruise_s(); }
  double stop_s(int k) const { return start_s + k * (stroke_s() + rest_s) + stroke_s(); }
  double one(double t) const {
    const double ta = accelerate_s(), tc = cruise_s();
    if (t <= 0) return 0;
    if (t < ta) return acceleration * t * t / 2;
    if (t < ta + tc) return speed * (t - ta / 2);
    if (t < stroke_s()) return distance_m - acceleration * std::pow(stroke_s() - t, 2) / 2;
    return distance_m;
  }
  double at(double t, int strokes) const {
    double r = 0;
    for (int k = 0; k < strokes; ++k) r += (k % 2 ? -1 : 1) * one(t - start_s - k * (stroke_s() + rest_s));
    return r;
  }
};

recording::Recording made(const Move& move, int strokes, double end_s, double rate_hz, double digit_m) {
  recording::Recording rec{.name = "made.csv", .kind = recording::RunKind::test_move, .period_s = 1 / rate_hz};
  for (long i = 0; double(i) / rate_hz < end_s; ++i) {
    const double t = double(i) / rate_hz, r = std::round(move.at(t, strokes) / digit_m) * digit_m;
    rec.time_s.push_back(t);
    rec.reference_a_m.push_back(r + 3e-6);
    rec.reference_b_m.push_back(r - 4e-6);
  }
  rec.position_a_m = rec.reference_a_m;
  rec.position_b_m = rec.reference_b_m;
  return rec;
}

}  // namespace

TEST_CASE("strokes, stops and phases are found at any rate and with few digits") {
  const Move move;
  for (const double rate : {100.0, 500.0, 2000.0, 20000.0})
    for (const double digit : {1e-9, 1e-7, 1e-6}) {
      CAPTURE(rate);
      CAPTURE(digit);
      const auto rec = made(move, 3, move.stop_s(2) - 0.1, rate, digit);  // the third stroke is cut by the file's end
      const Phases phases = find_phases(rec);
      REQUIRE(phases.strokes.size() == 3);
      const double slack = 1.5 / rate + std::sqrt(6 * digit / move.acceleration) + difference_s;
      for (int k = 0; k < 2; ++k) {
        const Stroke& s = phases.strokes[std::size_t(k)];
        CHECK(s.direction == (k % 2 ? -1 : 1));
        CHECK(s.stop_seen);
        CHECK(std::abs(rec.time_s[s.to] - move.stop_s(k)) < slack);
        CHECK(std::abs(rec.time_s[s.from] - (move.stop_s(k) - move.stroke_s())) < slack);
        CHECK(std::abs(std::abs(s.distance_m) - move.distance_m) < 0.005);
        const auto [from, to] = longest_run(phases, Phase::cruise, s.from, s.to);
        CHECK(std::abs(double(to - from) / rate - move.cruise_s()) < 4 * slack + 4 / rate);
      }
      CHECK_FALSE(phases.strokes[2].stop_seen);
    }
}

TEST_CASE("a reference that stands still has no strokes, and digits are no move") {
  recording::Recording rec = made({}, 0, 1, 1000, 1e-9);
  CHECK(find_phases(rec).strokes.empty());
}

// Written to 20 um, one digit over 4 ms looks like 5 mm/s, more than 0.2 % of the top speed: what its digits can look
// like is no motion, and ends no rest.
TEST_CASE("a last digit that flickers is no stroke and cuts no rest") {
  const Move move;
  auto coarse = made(move, 2, 2.6, 1000, 2e-5);
  for (const double at : {0.1, 0.15, move.stop_s(0) + 0.15, move.stop_s(0) + 0.25, move.stop_s(1) + 0.1}) {
    const auto i = std::size_t(1000 * at);
    coarse.reference_a_m[i] += 2e-5, coarse.reference_b_m[i] += 2e-5;
  }
  const Phases phases = find_phases(coarse);
  REQUIRE(phases.strokes.size() == 2);
  for (int k = 0; k < 2; ++k) {
    const Stroke& s = phases.strokes[std::size_t(k)];
    CHECK(s.stop_seen);
    CHECK(std::abs(coarse.time_s[s.to] - move.stop_s(k)) < 0.01);
    CHECK(std::abs(coarse.time_s[s.from] - (move.stop_s(k) - move.stroke_s())) < 0.01);
    CHECK(std::abs(std::abs(s.distance_m) - move.distance_m) < 1e-4);
  }
  CHECK(std::abs(coarse.time_s[phases.strokes[0].rest_to] - (move.stop_s(0) + move.rest_s)) < 0.01);
  CHECK(phases.strokes[1].rest_to == coarse.time_s.size());
}

// Of 4 m/s2 in the ramps 0.2 m/s2 are a twentieth: a feed that is trimmed by less while it cruises cruises on. Few
// digits make a noise of 3 digits over the window squared, and what is under that is cruise as well.
TEST_CASE("a cruise is one run, though its speed wanders a little or its digits are few") {
  const Move move;
  auto wandering = made(move, 1, 1.5, 1000, 1e-9);
  const double from_s = move.start_s + move.accelerate_s() + 0.02, turn = 2 * std::numbers::pi / 0.3;
  for (std::size_t i = 0; i < wandering.time_s.size(); ++i) {
    const double t = std::clamp(wandering.time_s[i] - from_s, 0.0, 0.3);
    const double more = 0.15 / (turn * turn) * (turn * t - std::sin(turn * t));  // 0.15 m/s2 up, then down
    wandering.reference_a_m[i] += more, wandering.reference_b_m[i] += more;
  }
  const recording::Recording coarse = made(move, 1, 1.5, 1000, 1.1e-5);
  for (const recording::Recording* rec : std::initializer_list<const recording::Recording*>{&wandering, &coarse}) {
    const Phases phases = find_phases(*rec);
    REQUIRE(phases.strokes.size() == 1);
    const Stroke& s = phases.strokes[0];
    const auto [from, to] = longest_run(phases, Phase::cruise, s.from, s.to);
    CHECK(std::abs(double(to - from) / 1000 - move.cruise_s()) < 0.02);
    CHECK(std::abs(rec->time_s[from] - move.start_s - move.accelerate_s()) < 0.01);
  }
}

// A law: in another unit of length, a power of two apart, the same samples are in motion and in the same phase.
TEST_CASE("strokes and phases do not depend on the unit of length, nor on how fast a move is altogether") {
  const Move move;
  for (const double digit : {1e-9, 1e-5}) {
    const auto plain = made(move, 2, 2.6, 1000, digit);
    const Phases before = find_phases(plain);
    REQUIRE(before.strokes.size() == 2);
    for (const int k : {-6, 6}) {
      auto scaled = plain;
      for (auto* column : {&scaled.reference_a_m, &scaled.reference_b_m})
        for (double& x : *column) x = std::ldexp(x, k);
      const Phases after = find_phases(scaled);
      CHECK(after.of_sample == before.of_sample);
      REQUIRE(after.strokes.size() == 2);
      for (std::size_t i = 0; i < 2; ++i) {
        CHECK(after.strokes[i].from == before.strokes[i].from);
        CHECK(after.strokes[i].to == before.strokes[i].to);
        CHECK(after.strokes[i].distance_m == std::ldexp(before.strokes[i].distance_m, k));
        CHECK(after.strokes[i].top_speed_m_per_s == std::ldexp(before.strokes[i].top_speed_m_per_s, k));
      }
    }
  }
}

TEST_CASE("skew error is counted from the reference skew, and peak, RMS and phase are right") {
  const Move move;
  auto rec = made(move, 2, 3, 1000, 1e-9);
  const std::size_t hit = std::size_t(1000 * (move.start_s + 0.1));  // inside the first acceleration
  rec.position_a_m[hit] += 50e-6;
  rec.position_b_m[hit] -= 20e-6;
  rec.position_a_m[hit + 500] = nan;
  rec.count_a_m = rec.count_b_m = 1e-6;
  const MoveMeasures m = measure(rec, {}, 10e-6);
  CHECK(m.skew.peak == base::test::near(70e-6));
  CHECK(m.skew.at == hit);
  CHECK(m.skew.samples == rec.time_s.size() - 1);
  CHECK(m.skew.rms == base::test::near(70e-6 / std::sqrt(double(rec.time_s.size() - 1))));
  CHECK(m.skew_by_phase[std::size_t(Phase::acceleration)].peak == base::test::near(70e-6));
  CHECK(m.skew_by_phase[std::size_t(Phase::cruise)].peak < 1e-12);
  CHECK(m.peak_doubt_m == base::test::near(1e-6));
}

TEST_CASE("counts move peak and RMS by no more than is said") {
  const Move move;
  std::mt19937 random(7);
  std::uniform_real_distribution<double> u(-1, 1);
  auto exact = made(move, 2, 3, 1000, 1e-9);
  for (std::size_t i = 0; i < exact.time_s.size(); ++i) {
    exact.position_a_m[i] += 20e-6 * std::sin(0.01 * double(i)) + 2e-6 * u(random);
    exact.position_b_m[i] += 2e-6 * u(random);
  }
  auto counted = exact;
  const double count = 2e-6;
  for (auto* x : {&counted.position_a_m, &counted.position_b_m})
    for (double& v : *x) v = std::round(v / count) * count;
  counted.count_a_m = counted.count_b_m = count;
  const MoveMeasures a = measure(exact, {}, 1e-5), b = measure(counted, {}, 1e-5);
  CHECK(std::abs(a.skew.peak - b.skew.peak) <= b.peak_doubt_m);
  CHECK(std::abs(a.skew.rms - b.skew.rms) <= b.rms_doubt_m);
}

TEST_CASE("settling into a window: closed form, not settled, and cut by the file's end") {
  const double period = 1e-3, tau = 0.05, start = 100e-6, window = 10e-6;
  std::vector<double> x;
  for (int i = 0; i < 400; ++i) x.push_back(start * std::exp(-i * period / tau));
  const auto settled = settle_time_s(x, 0, x.size(), window, period);
  REQUIRE(settled);
  CHECK(std::abs(*settled - tau * std::log(start / window)) <= period);
  CHECK_FALSE(settle_time_s(x, 0, 110, window, period));  // the file ends before it is in
  CHECK_FALSE(settle_time_s(x, 0, 118, window, period));  // in for two samples only: nothing is claimed
  x[395] = 11e-6;                                         // out again at the end
  CHECK_FALSE(settle_time_s(x, 0, x.size(), window, period));
  x[395] = nan;
  CHECK_FALSE(settle_time_s(x, 0, x.size(), window, period));
}

TEST_CASE("a move that does not settle leaves the number unknown, never zero") {
  const Move move;
  auto rec = made(move, 2, move.stop_s(1) + 0.2, 1000, 1e-9);
  for (double& x : rec.position_a_m) x += 60e-6;
  const MoveMeasures m = measure(rec, {}, 10e-6);
  CHECK_FALSE(m.settle_s);
  CHECK(m.settle_at_least_s == base::test::near(move.rest_s).epsilon(0.02));
}

TEST_CASE("forces: parts of peak, saturation, fight at rest with its sign") {
  const Move move;
  auto rec = made(move, 2, 3, 1000, 1e-9);
  const std::size_t n = rec.time_s.size();
  rec.force_a_n.assign(n, 30);
  rec.force_b_n.assign(n, -10);
  for (std::size_t i = 0; i < n / 10; ++i) rec.force_a_n[500 + i] = 200;
  machine::Machine machine;
  machine.a.peak_force_n = machine.b.peak_force_n = 200;
  const MoveMeasures m = measure(rec, machine, 1e-5);
  CHECK(*m.force_b->rms == base::test::near(0.05));
  CHECK(*m.force_a->peak == base::test::near(1));
  CHECK(m.force_a->saturated == base::test::near(double(n / 10) / double(n)));
  CHECK(*m.standing_fight_n == base::test::near(20));
}

// Both sides off by 80 um e^(-t/30 ms) after the first stop: the mean is in 10 um after 30 ln 8 = 62.4 ms. After the
// second the skew alone, 60 um at first: 30 ln 6 = 53.8 ms.
TEST_CASE("settling of each stop by hand: mean and skew apart, the slower of both, and what is left at its end") {
  const Move move;
  auto rec = made(move, 2, 2.8, 1000, 1e-9);
  for (std::size_t i = 0; i < rec.time_s.size(); ++i) {
    const double first = rec.time_s[i] - move.stop_s(0), second = rec.time_s[i] - move.stop_s(1);
    const double mean = first >= 0 && second < -move.stroke_s() ? 80e-6 * std::exp(-first / 0.03) : 0;
    const double skew = second >= 0 ? 60e-6 * std::exp(-second / 0.03) : 0;
    rec.position_a_m[i] += mean + skew / 2, rec.position_b_m[i] += mean - skew / 2;
  }
  const MoveMeasures m = measure(rec, {}, 10e-6);
  REQUIRE(m.settlings.size() == 2);
  CHECK(std::abs(*m.settlings[0].mean_s - 0.03 * std::log(8)) < 3e-3);
  CHECK(*m.settlings[0].skew_s < 3e-3);
  CHECK(std::abs(*m.settlings[1].skew_s - 0.03 * std::log(6)) < 3e-3);
  CHECK(*m.settlings[1].mean_s < 3e-3);
  CHECK(std::abs(m.settlings[0].stop_s - move.stop_s(0)) < 5e-3);
  CHECK(m.settlings[0].watched_s == base::test::near(move.rest_s).epsilon(0.02));
  CHECK(m.settlings[0].mean_left_m == base::test::near(80e-6 * std::exp(-move.rest_s / 0.03)).epsilon(0.2));
  CHECK(*m.settle_mean_s == *m.settlings[0].mean_s);
  CHECK(*m.settle_skew_s == *m.settlings[1].skew_s);
  CHECK(*m.settle_s == *m.settlings[0].mean_s);
}

// Of each rest the second half counts: 300 N at first, then 20 N before the first stroke, -35 N after it, 25 N at the
// end; the largest of them with its sign and its place. Peaks are each side's own.
TEST_CASE("standing fight by rests, and parts of unequal peak forces") {
  const Move move;
  auto rec = made(move, 2, 2.6, 1000, 1e-9);
  for (const double t : rec.time_s) {
    const bool before = t<move.start_s, between = t> move.stop_s(0) && t < move.stop_s(0) + move.rest_s;
    const bool early = t < 0.1 || (between && t < move.stop_s(0) + 0.15);
    const double fight = early ? 300 : before ? 20 : between ? -35 : t > move.stop_s(1) ? 25 : 90;
    rec.force_a_n.push_back(8 + fight), rec.force_b_n.push_back(8 - fight);
  }
  machine::Machine machine;
  machine.a.peak_force_n = 400, machine.b.peak_force_n = 800;
  const MoveMeasures m = measure(rec, machine, 10e-6);
  REQUIRE(m.standing_fight_n);
  CHECK(*m.standing_fight_n == base::test::near(-35));
  CHECK(rec.time_s[m.fight_from] == base::test::near(move.stop_s(0) + move.rest_s / 2).epsilon(0.02));
  CHECK(rec.time_s[m.fight_to] == base::test::near(move.stop_s(0) + move.rest_s).epsilon(0.02));
  CHECK(m.force_a->peak_n == base::test::near(308));
  CHECK(*m.force_a->peak == base::test::near(308.0 / 400));
  CHECK(*m.force_b->peak == base::test::near(292.0 / 800));
  double square = 0;
  for (const double f : rec.force_b_n) square += f * f / double(rec.time_s.size());
  CHECK(m.force_b->rms_n == base::test::near(std::sqrt(square)));
  CHECK(*m.force_b->rms == base::test::near(std::sqrt(square) / 800));
}

TEST_CASE("correlation against the two-pass definition, and nothing where a side does not vary") {
  std::mt19937 random(11);
  std::normal_distribution<double> g;
  std::vector<double> x, y;
  for (int i = 0; i < 500; ++i) {
    x.push_back(5 + 1e-6 * g(random));
    y.push_back(-3 + 0.4 * (x.back() - 5) + 1e-6 * g(random));
  }
  double mx = 0, my = 0, xx = 0, yy = 0, xy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) mx += x[i] / 500, my += y[i] / 500;
  for (std::size_t i = 0; i < x.size(); ++i) {
    xx += (x[i] - mx) * (x[i] - mx);
    yy += (y[i] - my) * (y[i] - my);
    xy += (x[i] - mx) * (y[i] - my);
  }
  CHECK(*correlation(x, y) == base::test::near(xy / std::sqrt(xx * yy)).epsilon(1e-6));
  CHECK(*correlation(x, x) == base::test::near(1));
  CHECK_FALSE(correlation(x, std::vector<double>(500, 1.0)));
}

TEST_CASE("thinning for a figure loses no peak and keeps time in order") {
  std::vector<double> x, y;
  std::mt19937 random(9);
  std::normal_distribution<double> g;
  for (int i = 0; i < 123457; ++i) x.push_back(i), y.push_back(g(random));
  y[77777] = 50;
  y[77778] = -60;
  base::Line line;
  thin(x, y, 500, line);
  CHECK(line.x.size() <= 1000);
  CHECK(*std::max_element(line.y.begin(), line.y.end()) == 50);
  CHECK(*std::min_element(line.y.begin(), line.y.end()) == -60);
  CHECK(std::is_sorted(line.x.begin(), line.x.end()));
}

}  // namespace evenbeam::acceptance
