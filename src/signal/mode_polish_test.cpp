#include "signal/mode_polish.h"

#include <doctest/doctest.h>

#include <array>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;
using math::Complex;

namespace {

// One pair, by its damping.
signal::RationalModel truth(Complex pole) {
  signal::RationalModel m;
  m.poles = {pole};
  m.residues = {{Complex(30, -500), Complex(10, 200), Complex(20, 100), Complex(-40, -700)}};
  m.direct = {0.01, 0.002, 0.003, -0.02};
  return m;
}

signal::RationalData lines_of(const signal::RationalModel& model, double from) {
  signal::RationalData out;
  for (double omega = from; omega <= 420; omega += 5) {
    out.omega_rad_per_s.push_back(omega);
    out.h.push_back(signal::evaluate(model, omega));
    out.weight.push_back({1, 1, 1, 1});
  }
  return out;
}

struct Scatter {
  double sum = 0, squares = 0, count = 0;
  void add(double x) { sum += x, squares += x * x, count += 1; }
  double mean() const { return sum / count; }
  double sd() const { return std::sqrt((squares - sum * sum / count) / (count - 1)); }
};

}  // namespace

// A second way to each deviation: the scatter over many draws of the noise. Of 600 draws a scatter is good to 3 %. A
// pair so damped that its mirror is felt as much: the errors of its real and its imaginary part then go together,
// else they are nearly those of one complex number and do not.
TEST_CASE("stated deviations of frequency, damping and residue are the scatter over 600 draws of the noise") {
  const auto model = truth(Complex(-150, 130));
  const auto exact = lines_of(model, 10);
  math::Random random(17);
  Scatter hz, damping;
  std::array<Scatter, 8> residue;
  double hz_said = 0, damping_said = 0;
  std::array<double, 4> residue_said{};
  constexpr int kDraws = 600;
  for (int draw = 0; draw < kDraws; ++draw) {
    auto data = exact;
    for (auto& h : data.h)
      for (Complex* entry : {&h.aa, &h.ab, &h.ba, &h.bb}) *entry += 0.01 * Complex(random.normal(), random.normal());
    const auto polished = signal::polish_poles(data, model, {0}, false);
    REQUIRE(polished.poles.size() == 1);
    CHECK(polished.delay_change_s == 0);
    const auto& p = polished.poles[0];
    hz.add(p.hz), damping.add(p.damping_ratio);
    hz_said += p.hz_sd / kDraws, damping_said += p.damping_ratio_sd / kDraws;
    const Complex parts[] = {p.residue.aa, p.residue.ab, p.residue.ba, p.residue.bb};
    for (std::size_t e = 0; e < 4; ++e) {
      residue[2 * e].add(parts[e].real()), residue[2 * e + 1].add(parts[e].imag());
      residue_said[e] += p.residue_sd[e] / kDraws;
    }
  }
  CHECK(hz_said == base::test::near(hz.sd()).epsilon(0.1));
  CHECK(damping_said == base::test::near(damping.sd()).epsilon(0.1));
  for (std::size_t e = 0; e < 4; ++e)
    CHECK(residue_said[e] == base::test::near(std::hypot(residue[2 * e].sd(), residue[2 * e + 1].sd())).epsilon(0.1));
  const Complex pole = model.poles[0];
  CHECK(hz.mean() == base::test::near(std::abs(pole) / (2 * std::numbers::pi)).epsilon(2e-3));
  CHECK(damping.mean() == base::test::near(150 / std::abs(pole)).epsilon(1e-2));
}

TEST_CASE("a dead time that was left in comes out, with the pole, and two pairs at once are found together") {
  signal::RationalModel model = truth(Complex(-60, 200));
  model.poles.push_back(Complex(-9, 330));
  model.residues.push_back({Complex(5, -90), Complex(-4, 60), Complex(-4, 60), Complex(3, -80)});
  auto data = lines_of(model, 190);
  for (std::size_t k = 0; k < data.h.size(); ++k)
    data.h[k] = math::scaled(data.h[k], std::polar(1.0, -data.omega_rad_per_s[k] * 5e-5));
  signal::RationalModel off = model;
  off.poles = {Complex(-58, 202), Complex(-9.5, 329)};
  const auto polished = signal::polish_poles(data, off, {0, 1}, true);
  REQUIRE(polished.poles.size() == 2);
  CHECK(polished.delay_change_s == base::test::near(5e-5).epsilon(1e-3));
  for (std::size_t k = 0; k < 2; ++k) {
    CHECK(std::abs(polished.poles[k].pole - model.poles[k]) < 1e-3);
    CHECK(std::abs(polished.poles[k].residue.ba - model.residues[k].ba) < 1e-2);
  }
}
