#include "signal/local_modes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;

struct Made {
  double hz, damping, a, b;  // shape of the ends, larger one 1
};

Complex pole_of(const Made& m) {
  const double w = 2 * std::numbers::pi * m.hz;
  return {-m.damping * w, w * std::sqrt(1 - m.damping * m.damping)};
}

// Masses that move on springs: G = rigid/s^2 + sum shape shape'/(s^2 + 2 zeta w s + w^2), late by 0.4 ms, each entry
// with noise of `noise` of the largest at that line.
Response response(const std::vector<Made>& modes, double noise, double to_hz, math::Random& random) {
  Response r;
  r.state = ResponseState::done;
  r.line_spacing_hz = 0.5;
  for (double hz = 1; hz <= to_hz; hz += r.line_spacing_hz) {
    const Complex s(0, 2 * std::numbers::pi * hz);
    Complex2x2 g{1.0 / (s * s), 0.2 / (s * s), 0.2 / (s * s), 1.1 / (s * s)};
    for (const Made& m : modes) {
      const double w = 2 * std::numbers::pi * m.hz;
      const Complex part = 1.0 / (s * s + 2 * m.damping * w * s + w * w);
      g = g + Complex2x2{m.a * m.a * part, m.a * m.b * part, m.a * m.b * part, m.b * m.b * part};
    }
    g = math::scaled(g, std::exp(-s * 4e-4));
    const double largest = std::max({std::abs(g.aa), std::abs(g.ab), std::abs(g.ba), std::abs(g.bb)});
    ResponseCovariance covariance{};
    Complex* entries[] = {&g.aa, &g.ab, &g.ba, &g.bb};
    for (std::size_t e = 0; e < 4; ++e) {
      covariance[5 * e] = std::pow(noise * largest, 2);
      *entries[e] += noise * largest / std::numbers::sqrt2 * Complex(random.normal(), random.normal());
    }
    r.frequency_hz.push_back(hz);
    r.g.push_back(g);
    r.covariance.push_back(covariance);
  }
  return r;
}

const std::vector<Made> kModes{{22, 0.03, 1, -0.8}, {61, 0.012, 0.5, 1}, {150, 0.045, 1, 0.9}, {166, 0.05, -0.7, 1}};

// Expected a little off, as a fitted plant has them.
std::vector<Complex> expected() {
  std::vector<Complex> out;
  for (const Made& m : kModes) out.push_back(pole_of({m.hz * 1.004, m.damping * 1.1, m.a, m.b}));
  return out;
}

}  // namespace

TEST_CASE("modes are read from a noisy response, near neighbours among them, and their intervals hold") {
  math::Random random(7);
  int inside_hz = 0, inside_damping = 0, all = 0;
  double widest = 0;
  for (int draw = 0; draw < 60; ++draw) {
    const Response r = response(kModes, 0.01, 300, random);
    for (std::size_t k = 0; k < kModes.size(); ++k) {
      const LocalMode m = read_mode(r, expected(), k);
      REQUIRE(m.done);
      ++all;
      inside_hz += std::abs(m.hz - kModes[k].hz) <= 1.96 * m.hz_sd;
      inside_damping += std::abs(m.damping - kModes[k].damping) <= 1.96 * m.damping_sd;
      widest = std::max(widest, m.hz_sd / m.hz);
      const double error = std::max(std::abs(m.shape_a - kModes[k].a), std::abs(m.shape_b - kModes[k].b));
      CHECK(error < 0.15);
    }
  }
  // The step to other windows joins a deviation that would do by itself: the intervals are rather wide.
  CHECK(inside_hz >= 0.92 * all);
  CHECK(inside_damping >= 0.92 * all);
  CHECK(widest < 0.01);
}

TEST_CASE("a response without noise gives the modes themselves") {
  math::Random random(1);
  const Response r = response(kModes, 0, 300, random);
  for (std::size_t k = 0; k < kModes.size(); ++k) {
    const LocalMode m = read_mode(r, expected(), k);
    REQUIRE(m.done);
    CHECK(m.hz == base::test::near(kModes[k].hz).epsilon(2e-3));
    CHECK(std::abs(m.hz - kModes[k].hz) < 3 * m.hz_sd);
    CHECK(m.damping == base::test::near(kModes[k].damping).epsilon(0.05));
  }
}

TEST_CASE("noise that is more than was said widens the interval, and the shape's interval holds too") {
  math::Random random(9);
  int inside_hz = 0, inside_damping = 0, inside_shape = 0, all = 0;
  double widest_shape = 0;
  for (int draw = 0; draw < 60; ++draw) {
    Response r = response(kModes, 0.02, 300, random);
    for (auto& covariance : r.covariance)
      for (auto& c : covariance) c /= 16;  // a quarter of what it is
    for (std::size_t k = 0; k < 2; ++k) {
      const LocalMode m = read_mode(r, expected(), k);
      REQUIRE(m.done);
      ++all;
      inside_hz += std::abs(m.hz - kModes[k].hz) <= 1.96 * m.hz_sd;
      inside_damping += std::abs(m.damping - kModes[k].damping) <= 1.96 * m.damping_sd;
      const double off = std::max(std::abs(m.shape_a - kModes[k].a), std::abs(m.shape_b - kModes[k].b));
      inside_shape += off <= 2.45 * m.shape_sd;  // of a complex number: 95 % of a circle
      widest_shape = std::max(widest_shape, m.shape_sd);
    }
  }
  CHECK(inside_hz >= 0.9 * all);
  CHECK(inside_damping >= 0.9 * all);
  CHECK(inside_shape >= 0.9 * all);
  CHECK(widest_shape < 0.2);
}

// The window lies about the expected frequency and is told; it grows until it holds thirteen lines, a mode of 22 Hz
// with lines 1 Hz apart by more than its eight dampings.
TEST_CASE("the window that is told is the one whose lines were used, and it grows to hold thirteen of them") {
  math::Random random(6);
  const Response fine = response(kModes, 0.01, 300, random);
  Response rare;
  rare.state = ResponseState::done, rare.line_spacing_hz = 1;
  for (std::size_t k = 0; k < fine.g.size(); k += 2) {
    rare.frequency_hz.push_back(fine.frequency_hz[k]);
    rare.g.push_back(fine.g[k]);
    rare.covariance.push_back(fine.covariance[k]);
  }
  for (const Response* r : std::initializer_list<const Response*>{&fine, &rare})
    for (std::size_t k = 0; k < kModes.size(); ++k) {
      const LocalMode m = read_mode(*r, expected(), k);
      REQUIRE(m.done);
      CHECK((m.from_hz + m.to_hz) / 2 == base::test::near(kModes[k].hz * 1.004));
      const auto inside = std::count_if(r->frequency_hz.begin(), r->frequency_hz.end(),
                                        [&](double hz) { return hz >= m.from_hz && hz <= m.to_hz; });
      CHECK(static_cast<long>(m.lines) == inside);
      CHECK(inside >= 13);
    }
}

// Lines 5 Hz apart: the window is as wide as it may be, 70 to 130 Hz, and holds 13 of them. Nine modes there are
// eleven unknowns an entry with the smooth part, and nine poles: hardly anything is left to tell them by.
TEST_CASE("few lines and many neighbours: nothing is read") {
  math::Random random(4);
  std::vector<Made> many;
  std::vector<Complex> poles;
  for (int k = 0; k < 9; ++k) {
    many.push_back({88 + 3.0 * k, 0.01, 1, k % 2 == 0 ? 0.8 : -0.8});
    poles.push_back(pole_of(many.back()));
  }
  Response r = response(many, 0.01, 300, random);
  Response rare;
  rare.state = ResponseState::done, rare.line_spacing_hz = 5;
  for (std::size_t k = 0; k < r.g.size(); ++k) {
    if (std::abs(std::remainder(r.frequency_hz[k], 5)) > 1e-6) continue;
    rare.frequency_hz.push_back(r.frequency_hz[k]);
    rare.g.push_back(r.g[k]);
    rare.covariance.push_back(r.covariance[k]);
  }
  CHECK_FALSE(read_mode(rare, poles, 4).done);
}

TEST_CASE("what the lines do not show is not read") {
  math::Random random(3);
  const Response low = response(kModes, 0.01, 100, random);
  CHECK_FALSE(read_mode(low, expected(), 3).done);  // beyond the lines
  CHECK_FALSE(read_mode(low, expected(), 3).reason.empty());
  Response none;
  CHECK_FALSE(read_mode(none, expected(), 0).done);
  // Expected far from any: nothing is made up there.
  const Response r = response({kModes[0]}, 0.01, 300, random);
  const LocalMode m = read_mode(r, {pole_of({200, 0.02, 1, 1})}, 0);
  CHECK((!m.done || m.hz_sd > 0.01 * m.hz));
}

}  // namespace evenbeam::signal
