#include "tuning/move_forecast.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>

#include "base/near_test.h"
#include "math/student.h"
#include "tuning/joint_doubt.h"

namespace evenbeam::tuning {
namespace {

constexpr double kPeriod_s = 2.5e-4;

// Rigid, without friction; the skew's own spring 1e6 N/m, damped above its half.
dynamics::Plant plant() {
  dynamics::Plant p;
  p.span_m = 2, p.fixed_mass_kg = 160, p.fixed_inertia_kg_m2 = 80, p.carriage_mass_kg = 60, p.carriage_y_m = 0.5;
  p.yaw_stiffness_n_m_per_rad = 4e6, p.yaw_damping_n_m_s_per_rad = 4e4, p.stress_free_skew_m = 30e-6;
  p.delay_s = 5e-4;
  return p;
}

machine::Settings loops() {
  machine::Settings s;
  s.period_s = kPeriod_s, s.mass_ff_kg = 200, s.share = 0.45;
  s.peak_force_a_n = 2500, s.peak_force_b_n = 2000;
  s.mean = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 27000, .velocity_integral_s = 0.05};
  s.skew = {.position_gain_per_s = 30, .velocity_gain_n_s_per_m = 4000, .velocity_integral_s = 0.05};
  return s;
}

machine::Settings open() {
  machine::Settings s = loops();
  s.mean = s.skew = {};
  s.mass_ff_kg = 0;
  return s;
}

identification::Identified known(const dynamics::Plant& p) {
  identification::Identified id;
  id.plant = p, id.plant_known = true, id.scale.common.value = 1, id.motion.mass_kg.value = 1;
  return id;
}

ForecastMove move() {
  const machine::PlannedMove planned{
      .name = "work", .distance_m = 0.1, .speed_m_per_s = 0.8, .acceleration_m_per_s2 = 8, .jerk_m_per_s3 = 400};
  machine::Machine m;
  m.carriage_y_m = 0.3;
  return move_of(planned, m, kPeriod_s);
}

recording::Recording recorded(double period_s, std::size_t count, double (*at)(double)) {
  recording::Recording r{.name = "file.csv", .period_s = period_s};
  for (std::size_t i = 0; i < count; ++i) {
    const double t = period_s * static_cast<double>(i);
    r.time_s.push_back(12 + t);
    r.reference_a_m.push_back(at(t) + 2e-5), r.reference_b_m.push_back(at(t) - 2e-5);
  }
  return r;
}

}  // namespace

// A running mean leaves a straight line, and a parabola but for a constant: its speed and acceleration are its own.
TEST_CASE("a recorded reference: speed and acceleration of a parabola, places between samples of a line") {
  recording::Recording r = recorded(1e-3, 600, [](double t) { return 0.1 + 0.4 * t + 1.5 * t * t; });
  r.carriage_y_m = -0.2, r.payload_kg = 3;
  const ForecastMove p = move_of(r, {}, 1e-3);
  CHECK(p.name == "file.csv");
  CHECK(p.carriage_y_m == -0.2);
  CHECK(p.payload_kg == 3);
  CHECK(p.first_s == 12);
  CHECK(p.file_time_s == r.time_s);
  REQUIRE(p.reference.mean_m.size() == 596);  // 4 ms at the end, where there is less to smooth by, are left out
  for (std::size_t i = 10; i < 580; ++i) {
    const double t = 1e-3 * static_cast<double>(i);
    CHECK(p.reference.mean_m_per_s[i] == base::test::near(0.4 + 3 * t).epsilon(1e-9));
    CHECK(p.reference.mean_m_per_s2[i] == base::test::near(3).epsilon(1e-6));
  }
  recording::Recording line = recorded(1e-3, 300, [](double t) { return 0.2 * t; });
  const ForecastMove fine = move_of(line, {}, kPeriod_s);
  for (std::size_t i = 0; i < fine.reference.mean_m.size(); ++i) {
    CHECK(std::abs(fine.reference.mean_m[i] - 0.2 * kPeriod_s * static_cast<double>(i)) < 1e-12);
    CHECK(fine.reference.mean_m_per_s[i] == base::test::near(0.2).epsilon(1e-6));
  }
  // A kink of 0.1 m/s is spread over 8 ms, twice the 4 ms of the running mean: at most a triangle of 25 m/s^2.
  const ForecastMove kink =
      move_of(recorded(kPeriod_s, 800, [](double t) { return 0.1 * std::max(0.0, t - 0.1); }), {}, kPeriod_s);
  const auto& a = kink.reference.mean_m_per_s2;
  CHECK(*std::max_element(a.begin(), a.end()) == base::test::near(25).epsilon(0.1));
  CHECK(*std::min_element(a.begin(), a.end()) > -1e-6);
  // A missing sample is bridged by what was there before.
  line.reference_a_m[100] = NAN;
  for (const double x : move_of(line, {}, 1e-3).reference.mean_m) CHECK(std::isfinite(x));
}

TEST_CASE("a planned move goes there and back, each with its rest") {
  const ForecastMove m = move();
  CHECK(m.carriage_y_m == 0.3);
  const auto& x = m.reference.mean_m;
  CHECK(*std::max_element(x.begin(), x.end()) == base::test::near(0.1));
  CHECK(std::abs(x.front()) < 1e-12);
  CHECK(std::abs(x.back()) < 1e-9);
  // 0.8/8 + 8/400 s up to speed and down again: 2 x 48 mm, 4 mm at full speed; half a second of rest after each.
  const double stroke_s = 2 * 0.12 + (0.1 - 0.8 * 0.12) / 0.8;
  CHECK(static_cast<double>(x.size()) * kPeriod_s == base::test::near(2 * (stroke_s + 0.5)).epsilon(2e-3));
}

// With loops open 50 N on A against 50 N on B turn the bridge by f L^2/K = 50 um from where it is stress-free.
TEST_CASE("a force added to the skew, loops open: it ends where the guides' spring holds it") {
  ForecastMove m = move();
  for (auto* track : {&m.reference.mean_m, &m.reference.mean_m_per_s, &m.reference.mean_m_per_s2})
    track->assign(4000, 0.0);
  const std::vector<double> force(4000, 50.0);
  const auto run = run_move(m, plant(), {.common = open()}, {}, force);
  REQUIRE(run.time_s.size() == 4000);
  CHECK(run.true_a_m.back() - run.true_b_m.back() - 30e-6 == base::test::near(50e-6).epsilon(1e-3));
  CHECK(run.force_a_n.back() == base::test::near(50));
  CHECK(run.force_b_n.back() == base::test::near(-50));
}

TEST_CASE("a forecast's peaks are those of the run, each side by its own peak force; runs side by side are alike") {
  const ForecastMove m = move();
  const auto id = known(plant());
  const MoveForecast f = forecast(m, id, loops(), {.draws = 0, .keep_run = true});
  const auto run = run_move(m, plant(), {.common = loops()}, {});
  double skew = 0, mean = 0, force = 0, a2 = 0, b2 = 0, moment = 0;
  for (std::size_t k = 0; k < run.time_s.size(); ++k) {
    const double off_a = run.position_a_m[k] - run.reference_a_m[k],
                 off_b = run.position_b_m[k] - run.reference_b_m[k];
    skew = std::max(skew, std::abs(off_a - off_b)), mean = std::max(mean, std::abs(off_a + off_b) / 2);
    force = std::max({force, std::abs(run.force_a_n[k]) / 2500, std::abs(run.force_b_n[k]) / 2000});
    a2 += std::pow(run.force_a_n[k] / 2500, 2), b2 += std::pow(run.force_b_n[k] / 2000, 2);
    moment = std::max(moment, 2e6 * std::abs(run.true_a_m[k] - run.true_b_m[k] - 30e-6));
    CHECK(std::abs(f.run_skew_error_m[k] - (off_a - off_b)) < 1e-15);
  }
  const double n = static_cast<double>(run.time_s.size());
  CHECK(f.peak_skew_m == base::test::near(skew));
  CHECK(f.peak_mean_error_m == base::test::near(mean));
  CHECK(f.peak_force_part == base::test::near(force));
  CHECK(f.rms_force_part == base::test::near(std::sqrt(std::max(a2, b2) / n)));
  CHECK(f.peak_guide_moment_n_m == base::test::near(moment));
  dynamics::Plant heavier = plant();
  heavier.carriage_mass_kg = 75;
  machine::Settings softer = loops();
  softer.skew.velocity_gain_n_s_per_m = 2000;
  const auto peaks = peak_skews(m, {plant(), heavier, plant()}, {loops(), loops(), softer}, {});
  REQUIRE(peaks.size() == 3);
  CHECK(peaks[0] == base::test::near(skew));
  CHECK(peaks[1] == base::test::near(run_move(m, heavier, {.common = loops()}, {}).peak_skew_error_m));
  CHECK(peaks[2] == base::test::near(run_move(m, plant(), {.common = softer}, {}).peak_skew_error_m));
}

TEST_CASE("the curve at a recording's own samples is the run at the period next to each") {
  const recording::Recording r = recorded(2e-3, 120, [](double t) { return 0.5 * t * t; });
  const ForecastMove m = move_of(r, {}, kPeriod_s);
  const MoveForecast f = forecast(m, known(plant()), loops(), {.draws = 0, .keep_run = true});
  REQUIRE(f.skew_error_m.size() == 120);
  for (std::size_t i = 0; i < 100; ++i) CHECK(f.skew_error_m[i] == f.run_skew_error_m[8 * i]);
}

// Without draws: a tenth of the peak for what the plant leaves out, as 1.96 sd, and both counts. What friction may
// hold before the run widens the guides' moment by L times its mean. What the law leaves of the fight in the median
// recording moves the skew by twice that over its stiffness, here 1e6 N/m and stiffest at no frequency.
TEST_CASE("bands by hand: what is left out, counts, held friction, and the fight that the law did not explain") {
  const ForecastMove m = move();
  dynamics::Plant p = plant();
  p.a.coulomb_n = 40, p.b.coulomb_n = 60;
  auto id = known(p);
  const MoveForecast plain = forecast(m, id, loops(), {.draws = 0});
  CHECK(plain.upper_m == base::test::near(1.196 * plain.peak_skew_m));
  CHECK(plain.lower_m == base::test::near(0.804 * plain.peak_skew_m));
  CHECK(plain.force_part.upper == base::test::near(1.098 * plain.peak_force_part));
  CHECK(plain.mean_error_m.lower == base::test::near(0.804 * plain.peak_mean_error_m));
  CHECK(plain.guide_moment_n_m.upper == base::test::near(1.196 * plain.peak_guide_moment_n_m + 100));
  CHECK(plain.guide_moment_n_m.lower ==
        base::test::near(std::max(0.0, 0.804 * plain.peak_guide_moment_n_m - 100)).scale(1e-9));
  const MoveForecast counted = forecast(m, id, loops(), {.draws = 0, .count_a_m = 1e-7, .count_b_m = 2e-7});
  CHECK(counted.upper_m == base::test::near(1.196 * counted.peak_skew_m + 3e-7));
  id.motion.recordings = {{"a", 0, 1, 9, 0, 2}, {"b", 0, 1, 9, 0, 7}, {"c", 0, 1, 9, 0, 90}};
  const MoveForecast ripples = forecast(m, id, open(), {.draws = 1});
  const double half = std::hypot(0.196 * ripples.peak_skew_m, 2 * 7 / 1e6);
  CHECK(ripples.upper_m - ripples.peak_skew_m == base::test::near(half).epsilon(5e-3));
}

TEST_CASE("bands of drawn plants: t times their root mean square distance, drawn a second time here") {
  using namespace identification;
  const ForecastMove m = move();
  auto id = known(plant());
  id.motion.covariance = Eigen::MatrixXd::Zero(kFixedCount, kFixedCount);
  id.motion.covariance(kStiffness, kStiffness) = std::pow(5e4, 2);  // 5 % of 1e6 N/m
  id.motion.covariance(kMoment0, kMoment0) = 9;
  const ForecastOptions options{.draws = 6, .seed = 4};
  const MoveForecast f = forecast(m, id, loops(), options);
  const PlantDraws draws(id);
  math::Random random(4);
  double squares = 0;
  for (int k = 0; k < 6; ++k) {
    const double peak = run_move(m, draws.draw(random), {.common = loops()}, options).peak_skew_error_m;
    squares += std::pow(peak - f.peak_skew_m, 2);
  }
  REQUIRE(squares > 0);
  const double half = std::hypot(2.446912 * std::sqrt(squares / 6), 0.196 * f.peak_skew_m);  // t of 6 degrees
  CHECK(f.upper_m - f.peak_skew_m == base::test::near(half));
}

}  // namespace evenbeam::tuning
