// LuGre friction of the stepper against closed forms.
// Parameters: Canudas de Wit, Olsson, Astrom, Lischinsky, IEEE TAC 40(3), 1995, Table I (read in a public
// implementation citing it): sigma0 = 1e5, sigma1 = sqrt(1e5), sigma2 = 0.4, Fc = 1, Fs = 1.5, v_s = 0.001. Values
// derived from F = (Fc + (Fs - Fc) exp(-(v/v_s)^2)) + sigma2 v and from the linearised bristle.
#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "simulation/gantry.h"
#include "simulation/gantry_step.h"

using namespace evenbeam;

namespace {

// Sliding at constant speed until the bristle stands; force of bristle and viscous part.
double sliding_n(double v) {
  double z = 0, damped = 0, force = 0;
  for (int k = 0; k < 60000; ++k) {
    const double ratio = v / 0.001;
    const double inverse_g = 1 / (1 + 0.5 * simulation::pack::exponential_of_negative(-ratio * ratio));
    force = simulation::bristle_force<double>(z, damped, v, 1e5, std::sqrt(1e5), inverse_g, 0, 1e-4, 1e4, 0.5);
  }
  return force + 0.4 * v;
}

}  // namespace

TEST_CASE("steady sliding at seven speeds and at the minimum") {
  const double speeds[] = {1e-4, 5e-4, 1e-3, 2e-3, 5e-3, 0.01, 0.1, 2.9863e-3};
  const double forces[] = {1.4950649, 1.3896004, 1.1843397, 1.0099578, 1.0020000, 1.0040000, 1.0400000, 1.0012615};
  for (int i = 0; i < 8; ++i) {
    CAPTURE(speeds[i]);
    CHECK(std::abs(sliding_n(speeds[i]) - forces[i]) < 1e-6);
    CHECK(std::abs(sliding_n(-speeds[i]) + forces[i]) < 1e-6);
  }
  CHECK(sliding_n(2.9863e-3) <= sliding_n(2.8e-3));
  CHECK(sliding_n(2.9863e-3) <= sliding_n(3.2e-3));
}

TEST_CASE("small motion before sliding, 1 kg a side: 316.228 rad/s, damping ratio 0.500632") {
  dynamics::Plant plant;
  plant.span_m = 1, plant.fixed_mass_kg = 2, plant.fixed_inertia_kg_m2 = 0.5;
  plant.a.coulomb_n = plant.b.coulomb_n = 1, plant.a.viscous_n_s_per_m = plant.b.viscous_n_s_per_m = 0.4;
  dynamics::Effects effects;  // presliding 1e-5 m: sigma0 = 1e5; ratio 0.5: sigma1 = sqrt(1e5)
  const auto model = simulation::prepare({plant, effects, 2e-6}, 2e-6);
  auto state = simulation::standing(model, 0, 0, 1);
  state.x[0] = state.x[1] = state.a.bristle_m = state.b.bristle_m = 1e-11;  // drawn aside, at rest
  // Free motion x_{k+2} = p x_{k+1} + q x_k at a stride of 1 ms; p, q from two such lines.
  double x[4];
  for (double& sample : x) {
    for (int k = 0; k < 500; ++k) simulation::advance(model, state, {});
    sample = state.x[0];
  }
  const double det = x[1] * x[1] - x[0] * x[2];
  const double p = (x[2] * x[1] - x[0] * x[3]) / det, q = (x[1] * x[3] - x[2] * x[2]) / det;
  const double decay = -0.5 * std::log(-q) / 1e-3, damped = std::acos(p / (2 * std::sqrt(-q))) / 1e-3;
  const double natural = std::hypot(decay, damped);
  CHECK(natural == base::test::near(316.228).epsilon(1e-5));
  CHECK(decay / natural == base::test::near(0.500632).epsilon(1e-5));
}
