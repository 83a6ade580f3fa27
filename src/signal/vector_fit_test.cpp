#include "signal/vector_fit.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"
#include "signal/mode_polish.h"

using namespace evenbeam;
using math::Complex;

namespace {

// One pair and a direct part, on lines of 0.5 rad/s about it, without noise.
signal::RationalModel one_pair() {
  signal::RationalModel m;
  m.poles = {Complex(-2, 200)};
  m.residues = {{Complex(0.3, -5), Complex(0.1, 2), Complex(0.2, 1), Complex(-0.4, -7)}};
  m.direct = {0.01, 0.002, 0.003, -0.02};
  return m;
}
signal::RationalData data_of(const signal::RationalModel& model, double from, double to) {
  signal::RationalData out;
  for (double omega = from; omega <= to; omega += 0.5) {
    out.omega_rad_per_s.push_back(omega);
    out.h.push_back(signal::evaluate(model, omega));
    out.weight.push_back({1, 1, 1, 1});
  }
  return out;
}

}  // namespace

TEST_CASE("poles to begin with stand evenly on a logarithmic scale inside the band") {
  signal::RationalData data;
  data.omega_rad_per_s = {1, 30, 1000};
  const auto poles = signal::starting_poles(data, 3);
  REQUIRE(poles.size() == 3);
  for (int k = 0; k < 3; ++k) {
    CHECK(poles[k].imag() == base::test::near(std::pow(10, k + 0.5)));
    CHECK(poles[k].real() == base::test::near(-0.01 * poles[k].imag()));
  }
}

// A second way to the error: noise of variance 2 q^2 on each of n lines and 4 entries, of which the unknowns, two
// residue parts and D an entry, take up their share of the 2 n real numbers each.
TEST_CASE("the error of a fit is the root of what is left a line and entry, weights counted") {
  const auto truth = one_pair();
  auto data = data_of(truth, 150, 250);
  math::Random random(5);
  const double q = 1e-3;
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    data.weight[k] = {1, 2, 5, 0.5};
    data.h[k] = data.h[k] + math::Complex2x2{q * Complex(random.normal(), random.normal()),
                                             q / 2 * Complex(random.normal(), random.normal()),
                                             q / 5 * Complex(random.normal(), random.normal()),
                                             q * 2 * Complex(random.normal(), random.normal())};
  }
  const auto model = signal::fit_residues(data, truth.poles);
  const double n = static_cast<double>(data.h.size());
  CHECK(model.error == base::test::near(q * std::sqrt(2 * (1 - 3 / (2 * n)))).epsilon(0.07));
  double sum = 0;
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    const auto off = signal::evaluate(model, data.omega_rad_per_s[k]) - data.h[k];
    sum += std::norm(off.aa) + 4 * std::norm(off.ab) + 25 * std::norm(off.ba) + 0.25 * std::norm(off.bb);
  }
  CHECK(model.error * model.error == base::test::near(sum / 4 / n).epsilon(1e-9));
}

TEST_CASE(
    "five rounds bring a pole that is off by its half-width and more to a thousandth of that, its residue too") {
  const auto truth = one_pair();
  const auto data = data_of(truth, 150, 250);
  for (const Complex start : {Complex(-2.5, 203), Complex(-1.2, 198)}) {
    const auto model = signal::fit_residues(data, {start});
    const auto polished = signal::polish_poles(data, model, {0}, false);
    REQUIRE(polished.poles.size() == 1);
    CHECK(std::abs(polished.poles[0].pole - truth.poles[0]) < 2e-3);
    CHECK(polished.poles[0].hz == base::test::near(std::abs(truth.poles[0]) / (2 * 3.141592653589793)).epsilon(1e-4));
    CHECK(polished.poles[0].damping_ratio == base::test::near(2 / std::abs(truth.poles[0])).epsilon(1e-3));
    CHECK(std::abs(polished.poles[0].residue.bb - truth.residues[0].bb) < 3e-3);
  }
}
