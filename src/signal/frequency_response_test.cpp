#include "signal/frequency_response.h"

#include <doctest/doctest.h>

#include <Eigen/LU>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;
using math::Complex;
using math::Complex2x2;

namespace {

constexpr double sample_s = 0.001;

// An invented two-sided plant in difference form, with its exact response at z:
//   x_A' = 0.7 x_A + 0.2 x_B + F_A ...  x(n+1) = A x(n) + B F(n) in 1e-6 m.
struct ToyPlant {
  double a[2][2] = {{0.72, 0.2}, {0.15, 0.6}};
  double b[2][2] = {{1.0, 0.1}, {-0.2, 0.8}};
  Complex2x2 response(double hz) const {
    const Complex z = std::polar(1.0, 2 * std::numbers::pi * hz * sample_s);
    const Complex2x2 left = {z - a[0][0], -a[0][1], -a[1][0], z - a[1][1]};
    return math::scaled(math::inverse(left) * Complex2x2{b[0][0], b[0][1], b[1][0], b[1][1]}, 1e-6);
  }
};

struct Capture {
  std::vector<double> xa, xb, fa, fb, ra, rb;
  signal::Experiment view(bool references = false) const {
    return {xa,
            xb,
            fa,
            fb,
            references ? std::span<const double>(ra) : std::span<const double>(),
            references ? std::span<const double>(rb) : std::span<const double>()};
  }
};

struct Setup {
  double feedback = 0;  // N/um of position fed back to both sides
  double noise_um = 0;  // disturbance inside the loop
  double cube = 0;      // nonlinear force
  double drift_um = 0;  // ramp a sample
  bool periodic = true;
  int only_every = 1;  // lines 1, 1 + n, 1 + 2n ... excited
};

// Period 500 samples, excitation on one side (strongly) and on the other (weakly).
Capture run(const ToyPlant& plant, const Setup& setup, int strong_side, std::size_t count, math::Random& random) {
  std::vector<double> tone(500, 0.0);
  for (int k = 1; k <= 200; k += setup.only_every) {
    const double phase = random.uniform(0, 2 * std::numbers::pi);
    for (std::size_t n = 0; n < 500; ++n)
      tone[n] +=
          std::cos(2 * std::numbers::pi * static_cast<double>(static_cast<std::size_t>(k) * n % 500) / 500 + phase);
  }
  Capture c;
  double x[2] = {0, 0}, disturbance[2] = {0, 0};
  for (std::size_t n = 0; n < count; ++n) {
    double r[2] = {0, 0};
    for (int side = 0; side < 2; ++side)
      r[side] = setup.periodic ? (side == strong_side ? tone[n % 500] : 0.0)
                               : (side == strong_side ? 10 : 3) * random.normal();
    const double y[2] = {x[0] + disturbance[0], x[1] + disturbance[1]};
    const double f[2] = {r[0] - setup.feedback * y[0], r[1] - setup.feedback * y[1]};
    c.xa.push_back(1e-6 * (y[0] + setup.drift_um * static_cast<double>(n)));
    c.xb.push_back(1e-6 * (y[1] + setup.drift_um * static_cast<double>(n)));
    c.fa.push_back(f[0]);
    c.fb.push_back(f[1]);
    c.ra.push_back(r[0]);
    c.rb.push_back(r[1]);
    const double g[2] = {f[0] + setup.cube * f[0] * f[0] * f[0], f[1] + setup.cube * f[1] * f[1] * f[1]};
    const double next[2] = {
        plant.a[0][0] * x[0] + plant.a[0][1] * x[1] + plant.b[0][0] * g[0] + plant.b[0][1] * g[1],
        plant.a[1][0] * x[0] + plant.a[1][1] * x[1] + plant.b[1][0] * g[0] + plant.b[1][1] * g[1]};
    for (int side = 0; side < 2; ++side) {
      x[side] = next[side];
      disturbance[side] = 0.8 * disturbance[side] + setup.noise_um * random.normal();
    }
  }
  return c;
}

signal::ResponseOptions periodic_options() {
  signal::ResponseOptions options;
  options.sample_s = sample_s;
  options.period_s = 0.5;
  return options;
}

double largest_error(const signal::Response& response, const ToyPlant& plant) {
  double worst = 0;
  for (std::size_t k = 0; k < response.g.size(); ++k) {
    const Complex2x2 truth = plant.response(response.frequency_hz[k]);
    worst = std::max(worst, math::singular_values(response.g[k] - truth)[0] / math::singular_values(truth)[0]);
  }
  return worst;
}

// All four entries at once against their whole stated covariance: d* C^-1 d is 4 on average where C is true.
double squares_of_an_entry(const signal::Response& response, const ToyPlant& plant) {
  double sum = 0;
  for (std::size_t k = 0; k < response.g.size(); ++k) {
    const Complex2x2 off = response.g[k] - plant.response(response.frequency_hz[k]);
    Eigen::Matrix4cd covariance;
    for (int i = 0; i < 4; ++i)
      for (int j = 0; j < 4; ++j) covariance(i, j) = response.covariance[k][static_cast<std::size_t>(4 * i + j)];
    const Eigen::Vector4cd d(off.aa, off.ab, off.ba, off.bb);
    sum += d.dot(covariance.inverse() * d).real() / 4;
  }
  return sum / static_cast<double>(response.g.size());
}

}  // namespace

TEST_CASE("without noise the periodic route gives the plant itself, drift and transient taken out") {
  math::Random random(21);
  const ToyPlant plant;
  Setup setup;
  setup.drift_um = 0.3;
  const Capture a = run(plant, setup, 0, 3000, random), b = run(plant, setup, 1, 3000, random);
  const auto response = signal::measure_response(std::vector{a.view(), b.view()}, periodic_options());
  INFO(response.reason);
  REQUIRE(response.state == signal::ResponseState::done);
  CHECK(response.g.size() == 200);
  CHECK(response.skipped_periods[0] >= 1);  // the start from rest
  CHECK(largest_error(response, plant) < 1e-9);
}

TEST_CASE("closed loop with noise: the usual estimate is wrong by over 20 %, ours is right within its own spread") {
  math::Random random(22);
  const ToyPlant plant;
  Setup setup;
  setup.feedback = 0.35;
  setup.noise_um = 5;
  const std::size_t count = 500 * 400;
  const Capture a = run(plant, setup, 0, count, random), b = run(plant, setup, 1, count, random);
  auto options = periodic_options();
  const auto ours = signal::measure_response(std::vector{a.view(), b.view()}, options);
  REQUIRE(ours.state == signal::ResponseState::done);
  options.period_s = 0;
  options.segment_s = 0.5;
  const auto usual = signal::measure_response(std::vector{a.view(), b.view()}, options);
  const auto instrument = signal::measure_response(std::vector{a.view(true), b.view(true)}, options);
  REQUIRE(usual.state == signal::ResponseState::done);
  CHECK_FALSE(usual.closed_loop_safe);
  CHECK(ours.closed_loop_safe);
  // Root of the mean square error over 10 to 300 Hz, relative to G.
  const auto error = [&](const signal::Response& r) {
    double sum = 0, size = 0;
    for (std::size_t k = 0; k < r.g.size(); ++k) {
      if (r.frequency_hz[k] < 10 || r.frequency_hz[k] > 300) continue;
      const Complex2x2 truth = plant.response(r.frequency_hz[k]);
      sum += std::pow(math::singular_values(r.g[k] - truth)[0], 2);
      size += std::pow(math::singular_values(truth)[0], 2);
    }
    return std::sqrt(sum / size);
  };
  MESSAGE("closed loop, error: usual " << error(usual) << ", periodic " << error(ours) << ", with references "
                                       << error(instrument));
  CHECK(error(usual) > 0.2);
  CHECK(error(ours) < 0.1);
  // Stated spread: |dg|^2 / sd^2 averages to one.
  double squares = 0;
  for (std::size_t k = 0; k < ours.g.size(); ++k) {
    const auto sd = signal::standard_deviations(ours.covariance[k]);
    squares += std::norm(ours.g[k].aa - plant.response(ours.frequency_hz[k]).aa) / (sd[0] * sd[0]);
  }
  CHECK(squares / static_cast<double>(ours.g.size()) == base::test::near(1).epsilon(0.35));
  CHECK(squares_of_an_entry(ours, plant) == base::test::near(1).epsilon(0.1));
}

TEST_CASE("Welch with an outside reference is right in the closed loop, and its stated spread holds") {
  math::Random random(23);
  const ToyPlant plant;
  Setup setup;
  setup.feedback = 0.35;
  setup.noise_um = 5;
  setup.periodic = false;
  const Capture a = run(plant, setup, 0, 200000, random), b = run(plant, setup, 1, 200000, random);
  signal::ResponseOptions options;
  options.sample_s = sample_s;
  options.segment_s = 1;
  options.from_hz = 5;
  const auto response = signal::measure_response(std::vector{a.view(true), b.view(true)}, options);
  REQUIRE(response.state == signal::ResponseState::done);
  CHECK(response.closed_loop_safe);
  double squares = 0;
  for (std::size_t k = 0; k < response.g.size(); ++k) {
    const auto sd = signal::standard_deviations(response.covariance[k]);
    squares += std::norm(response.g[k].bb - plant.response(response.frequency_hz[k]).bb) / (sd[3] * sd[3]);
  }
  CHECK(squares / static_cast<double>(response.g.size()) == base::test::near(1).epsilon(0.3));
  CHECK(squares_of_an_entry(response, plant) == base::test::near(1).epsilon(0.1));
}

// A segment's own mean and ramp are taken out of it, so that what drifts along a straight line is not there.
TEST_CASE("Welch: a drift along a straight line, of position or of force, changes no answer") {
  math::Random random(26);
  Setup setup;
  setup.periodic = false;
  const Capture a = run({}, setup, 0, 8000, random), b = run({}, setup, 1, 8000, random);
  Capture drifting = a;
  for (std::size_t n = 0; n < 8000; ++n) {
    const double t = static_cast<double>(n);
    drifting.xa[n] += 2e-5 + 3e-9 * t, drifting.xb[n] -= 1e-9 * t;
    drifting.fa[n] += 5 - 1e-3 * t, drifting.fb[n] += 2e-3 * t;
  }
  signal::ResponseOptions options;
  options.sample_s = sample_s;
  options.segment_s = 0.5;
  const auto plain = signal::measure_response(std::vector{a.view(), b.view()}, options);
  const auto other = signal::measure_response(std::vector{drifting.view(), b.view()}, options);
  REQUIRE(plain.state == signal::ResponseState::done);
  REQUIRE(other.g.size() == plain.g.size());
  for (std::size_t k = 0; k < plain.g.size(); ++k)
    CHECK(math::singular_values(other.g[k] - plain.g[k])[0] < 1e-8 * math::singular_values(plain.g[k])[0]);
  options.detrend = signal::Detrend::mean;
  Capture lifted = a;
  for (double& x : lifted.xa) x += 2e-4;
  const auto level = signal::measure_response(std::vector{a.view(), b.view()}, options);
  const auto raised = signal::measure_response(std::vector{lifted.view(), b.view()}, options);
  for (std::size_t k = 0; k < level.g.size(); ++k)
    CHECK(math::singular_values(raised.g[k] - level.g[k])[0] < 1e-8 * math::singular_values(level.g[k])[0]);
}

TEST_CASE("Welch: forces that always push in one proportion are refused in words") {
  math::Random random(27);
  Setup setup;
  setup.periodic = false;
  Capture a = run({}, setup, 0, 6000, random);
  for (std::size_t n = 0; n < 6000; ++n) a.fb[n] = 0.5 * a.fa[n];
  signal::ResponseOptions options;
  options.sample_s = sample_s;
  options.segment_s = 0.5;
  const auto refused = signal::measure_response(std::vector{a.view()}, options);
  CHECK(refused.state == signal::ResponseState::refused);
  CHECK(refused.reason.find("one direction only") != std::string::npos);
}

TEST_CASE("mean and skew view: by hand for one line, spread included, and back") {
  signal::Response sides;
  sides.state = signal::ResponseState::done;
  sides.frequency_hz = {10};
  const Complex2x2 g = {{3, 1}, {0.5, -0.2}, {0.4, 0.1}, {2, -1}};
  sides.g = {g};
  sides.covariance = {{}};
  for (std::size_t i = 0; i < 4; ++i) sides.covariance[0][5 * i] = 1.0 + static_cast<double>(i);
  const auto seen = signal::mean_skew_view(sides);
  // f_m = 1, d = 0: F_A = F_B = 1/2.  d = 1, f_m = 0: F_A = 1, F_B = -1.
  const Complex xa_sum = 0.5 * (g.aa + g.ab), xb_sum = 0.5 * (g.ba + g.bb), xa_fight = g.aa - g.ab,
                xb_fight = g.ba - g.bb;
  CHECK(std::abs(seen.g[0].aa - 0.5 * (xa_sum + xb_sum)) < 1e-15);
  CHECK(std::abs(seen.g[0].ab - 0.5 * (xa_fight + xb_fight)) < 1e-15);
  CHECK(std::abs(seen.g[0].ba - (xa_sum - xb_sum)) < 1e-15);
  CHECK(std::abs(seen.g[0].bb - (xa_fight - xb_fight)) < 1e-15);
  // Independent entries: var bb' = sum of the four; var aa' = sum / 16.
  const auto sd = signal::standard_deviations(seen.covariance[0]);
  CHECK(sd[3] * sd[3] == base::test::near(10));
  CHECK(sd[0] * sd[0] == base::test::near(10.0 / 16));
  const auto back = signal::side_view(seen);
  CHECK(math::singular_values(back.g[0] - g)[0] < 1e-15);
  for (std::size_t i = 0; i < 16; ++i) CHECK(std::abs(back.covariance[0][i] - sides.covariance[0][i]) < 1e-14);
}

TEST_CASE("lines left free show the distortion, and only where there is any") {
  for (const double cube : {0.0, 1e-3}) {
    math::Random random(24);
    Setup setup;
    setup.only_every = 4;
    setup.noise_um = 0.01;
    setup.cube = cube;
    const Capture a = run({}, setup, 0, 5000, random), b = run({}, setup, 1, 5000, random);
    const auto response = signal::measure_response(std::vector{a.view(), b.view()}, periodic_options());
    INFO(response.reason, " cube ", cube);
    REQUIRE(response.state == signal::ResponseState::done);
    CHECK(response.g.size() == 50);
    REQUIRE(response.unexcited.size() >= 140);
    double ratio = 0;
    for (const auto& line : response.unexcited) ratio += std::pow(line.position_a_m / line.noise_a_m, 2);
    ratio /= static_cast<double>(response.unexcited.size());
    if (cube > 0)
      CHECK(ratio > 100);
    else
      CHECK(ratio == base::test::near(1).epsilon(0.5));
  }
}

// A hum of 2 um on A and 5 um on B at 6 Hz, where no force is; white noise of sd q in the readings. A line of N
// samples in P periods is 2/N times a sum: its noise 4 q^2/(N P) of variance.
TEST_CASE("what a free line carries is told by side: a hum by its amplitude, noise by its deviation") {
  math::Random random(28);
  Setup setup;
  setup.only_every = 4;
  const double noise_a = 3e-8, noise_b = 7e-8;
  Capture captures[2] = {run({}, setup, 0, 10000, random), run({}, setup, 1, 10000, random)};
  for (Capture& c : captures)
    for (std::size_t n = 0; n < 10000; ++n) {
      const double turn = 2 * std::numbers::pi * 6 * sample_s * static_cast<double>(n);
      c.xa[n] += 2e-6 * std::cos(turn + 0.3) + noise_a * random.normal();
      c.xb[n] += 5e-6 * std::sin(turn) + noise_b * random.normal();
    }
  const auto response =
      signal::measure_response(std::vector{captures[0].view(), captures[1].view()}, periodic_options());
  REQUIRE(response.state == signal::ResponseState::done);
  const double periods = static_cast<double>(response.averages) / 2;
  double squares_a = 0, squares_b = 0, steady_a = 0, count = 0;
  for (const auto& line : response.unexcited) {
    if (std::abs(line.hz - 6) < 0.1) {
      CHECK(line.position_a_m == base::test::near(2e-6).epsilon(0.01));
      CHECK(line.position_b_m == base::test::near(5e-6).epsilon(0.01));
      continue;
    }
    squares_a += line.noise_a_m * line.noise_a_m, squares_b += line.noise_b_m * line.noise_b_m;
    steady_a += line.position_a_m * line.position_a_m, count += 1;
  }
  REQUIRE(count > 140);
  const double by_hand = 2 / std::sqrt(500 * periods);
  CHECK(std::sqrt(squares_a / count) == base::test::near(noise_a * by_hand).epsilon(0.1));
  CHECK(std::sqrt(squares_b / count) == base::test::near(noise_b * by_hand).epsilon(0.1));
  CHECK(std::sqrt(steady_a / count) == base::test::near(noise_a * by_hand).epsilon(0.2));  // noise repeats by chance
}

// One of two tones of amplitude 1 N in each of two recordings: N/2 a line in the transform's sum. White noise of sd q
// in a reading is N q^2 of power there, so that the forces explain S/(S + 2 N q^2), S = (N/2)^2 (|G_1|^2 + |G_2|^2).
TEST_CASE("multiple coherence of each side by hand, with a period and without one") {
  math::Random random(29);
  const ToyPlant plant;
  const double noise[] = {3e-6, 9e-6};
  for (const bool periodic : {true, false}) {
    CAPTURE(periodic);
    Setup setup;
    setup.periodic = periodic;
    Capture captures[2] = {run(plant, setup, 0, 30000, random), run(plant, setup, 1, 30000, random)};
    for (Capture& c : captures)
      for (std::size_t n = 0; n < 30000; ++n)
        c.xa[n] += noise[0] * random.normal(), c.xb[n] += noise[1] * random.normal();
    auto options = periodic_options();
    if (!periodic) options.period_s = 0, options.segment_s = 0.5;
    const auto response = signal::measure_response(std::vector{captures[0].view(), captures[1].view()}, options);
    REQUIRE(response.state == signal::ResponseState::done);
    double ratio[2] = {0, 0}, count = 0;
    for (std::size_t k = 0; k < response.g.size(); ++k) {
      const Complex2x2 g = plant.response(response.frequency_hz[k]);
      const double sizes[] = {std::norm(g.aa) + std::norm(g.ab), std::norm(g.ba) + std::norm(g.bb)};
      if (response.frequency_hz[k] < 5) continue;  // near rest the window leaks
      count += 1;
      for (int side = 0; side < 2; ++side) {
        // Power of both recordings: tones (N/2)^2 against 2 N q^2; white forces of sd 10 and 3 N (109 N^2 in two).
        const double signal = periodic ? 250.0 * 250 * sizes[side] : 109 * 500 * sizes[side];
        const double left = 2 * 500 * noise[side] * noise[side];
        ratio[side] += (1 / response.coherence[k][static_cast<std::size_t>(side)] - 1) * signal / left;
      }
    }
    for (const double r : ratio) CHECK(r / count == base::test::near(1).epsilon(0.12));
  }
}

TEST_CASE("gaps take out their period; too few left, one direction only, odd periods are refused in words") {
  math::Random random(25);
  const ToyPlant plant;
  Setup setup;
  Capture a = run(plant, setup, 0, 4000, random), b = run(plant, setup, 1, 4000, random);
  a.xb[1700] = std::nan("");
  const auto with_gap = signal::measure_response(std::vector{a.view(), b.view()}, periodic_options());
  REQUIRE(with_gap.state == signal::ResponseState::done);
  CHECK(with_gap.averages + with_gap.skipped_periods[0] + with_gap.skipped_periods[1] == 15);
  CHECK(largest_error(with_gap, plant) < 1e-9);
  for (std::size_t n = 0; n < 4000; n += 400) a.fa[n] = std::nan("");
  const auto too_few = signal::measure_response(std::vector{a.view(), b.view()}, periodic_options());
  CHECK(too_few.state == signal::ResponseState::refused);
  CHECK(too_few.reason.find("whole periods") != std::string::npos);
  CHECK(signal::measure_response(std::vector{b.view()}, periodic_options()).state == signal::ResponseState::refused);
  const auto twice = signal::measure_response(std::vector{b.view(), b.view()}, periodic_options());
  CHECK(twice.state == signal::ResponseState::refused);
  auto odd = periodic_options();
  odd.period_s = 0.50037;
  CHECK(signal::measure_response(std::vector{b.view(), b.view()}, odd).reason.find("whole number") !=
        std::string::npos);
  CHECK(signal::Response{}.state == signal::ResponseState::not_done);
}
