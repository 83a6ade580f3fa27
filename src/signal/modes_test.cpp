#include "signal/modes.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "math/random.h"

using namespace evenbeam;
using math::Complex;
using math::Complex2x2;
using std::numbers::pi;

namespace {

struct True {
  double hz, damping, a, b, mass_kg;  // shape at A and B
};

// Compliance of rigid motion (mass 500 kg, yawing with little stiffness is a mode), modes, dead time, friction.
Complex2x2 compliance(const std::vector<True>& modes, double delay_s, double hz) {
  const Complex s(0, 2 * pi * hz);
  const Complex rigid = 1.0 / (500.0 * s * s + 300.0 * s);
  Complex2x2 g = {rigid, rigid, rigid, rigid};
  for (const auto& m : modes) {
    const double w = 2 * pi * m.hz;
    const Complex q = 1.0 / (m.mass_kg * (s * s + 2 * m.damping * w * s + w * w));
    g = g + Complex2x2{m.a * m.a * q, m.a * m.b * q, m.a * m.b * q, m.b * m.b * q};
  }
  return math::scaled(g, std::exp(-s * delay_s));
}

// As measured: lines 0.5 Hz apart and rarer upwards, noise constant in acceleration per force.
signal::Response measured(const std::vector<True>& modes, double delay_s, double noise, math::Random& random) {
  signal::Response r;
  r.state = signal::ResponseState::done;
  for (double hz = 3; hz < 500; hz = std::max(hz + 0.5, std::round(hz * 1.03 * 2) / 2)) {
    const double w2 = std::pow(2 * pi * hz, 2), sd = noise / w2;
    Complex2x2 g = compliance(modes, delay_s, hz);
    for (Complex* entry : {&g.aa, &g.ab, &g.ba, &g.bb})
      *entry += sd / std::sqrt(2.0) * Complex(random.normal(), random.normal());
    signal::ResponseCovariance covariance{};
    for (std::size_t i = 0; i < 4; ++i) covariance[5 * i] = sd * sd;
    r.frequency_hz.push_back(hz);
    r.g.push_back(g);
    r.covariance.push_back(covariance);
    r.coherence.push_back({0.999, 0.999});
  }
  return r;
}

std::vector<True> draw_modes(math::Random& random, int count) {
  // Yaw, something in phase, two drives: places and sizes scattered.
  std::vector<True> modes = {
      {random.uniform(8, 20), random.uniform(0.02, 0.08), 1, -random.uniform(0.8, 1.2), 250},
      {random.uniform(40, 80), random.uniform(0.005, 0.03), random.uniform(0.7, 1.2), 1, 800},
      {random.uniform(140, 190), random.uniform(0.02, 0.08), -random.uniform(0.2, 0.7), 1, 150},
      {random.uniform(230, 320), random.uniform(0.02, 0.08), 1, random.uniform(0.2, 0.7), 150}};
  modes.resize(static_cast<std::size_t>(count));
  return modes;
}

}  // namespace

TEST_CASE("random machines with dead time and noise: every mode within 0.5 %, none invented") {
  math::Random random(61);
  signal::ModeOptions options;
  options.model_spread = 3e-4;  // the model is the right one here: noise rules
  double squares = 0, count = 0;
  for (int round = 0; round < 9; ++round) {
    const auto modes = draw_modes(random, 3 + round % 2);
    const double delay_s = random.uniform(0, 6e-4);
    options.delay_s = round % 3 == 0 ? std::optional<double>(delay_s) : std::nullopt;
    const auto found = signal::find_modes(measured(modes, delay_s, 2e-5, random), options);
    INFO("seed 61, round ", round, " delay ", delay_s, " found ", found.delay_s, " ", found.reason);
    REQUIRE(found.done);
    REQUIRE(found.modes.size() == modes.size());
    for (std::size_t i = 0; i < modes.size(); ++i) {
      const auto& mode = found.modes[i];
      INFO("mode ", i, " at ", modes[i].hz, " found ", mode.hz, " +- ", mode.hz_sd);
      CHECK(std::abs(mode.hz / modes[i].hz - 1) < 0.005);
      CHECK(std::abs(mode.damping_ratio - modes[i].damping) <
            std::max(0.1 * modes[i].damping, 5 * mode.damping_ratio_sd));
      const double larger = std::abs(modes[i].a) > std::abs(modes[i].b) ? modes[i].a : modes[i].b;
      CHECK(std::abs(mode.shape_a - modes[i].a / larger) < std::max(0.05, 5 * mode.shape_sd));
      CHECK(std::abs(mode.shape_b - modes[i].b / larger) < std::max(0.05, 5 * mode.shape_sd));
      CHECK(mode.rank_one > 0.9);
      squares += std::pow((mode.hz - modes[i].hz) / mode.hz_sd, 2);
      count += 1;
    }
  }
  // The stated spread is the true one: mean square of the normalised errors near one (31 values, not independent).
  CHECK(squares / count > 0.4);
  CHECK(squares / count < 2.5);
}

TEST_CASE("a rigid machine has no modes, and says so without inventing any") {
  math::Random random(62);
  for (int round = 0; round < 4; ++round) {
    const auto found = signal::find_modes(measured({}, 2e-4, 2e-5, random));
    INFO("seed 62, round ", round);
    REQUIRE(found.done);
    CHECK(found.modes.empty());
  }
}

TEST_CASE("without a response, or with too few coherent lines, there is a reason instead of modes") {
  CHECK_FALSE(signal::find_modes({}).done);
  math::Random random(63);
  auto response = measured(draw_modes(random, 3), 0, 1e-5, random);
  for (auto& c : response.coherence) c = {0.1, 0.2};
  const auto found = signal::find_modes(response);
  CHECK_FALSE(found.done);
  CHECK(found.reason.find("coherence") != std::string::npos);
}
