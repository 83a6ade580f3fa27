#include "tuning/certificate.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "dynamics/beam.h"
#include "dynamics/sample_plant_test.h"
#include "math/random.h"
#include "simulation/linear_loop.h"
#include "tuning/certificate_search.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

CertificateCase easy_case() {
  CertificateCase c;
  c.plant = dynamics::test::full_plant();
  c.plant.carriage_stiffness_n_per_m = 0;
  c.settings = {.period_s = 1e-4, .share = 0.48, .peak_force_a_n = 2000, .peak_force_b_n = 2600};
  c.settings.mean = {10, 12000, 0.15, 800, {{140, 0.3, 0.9}}};
  c.settings.skew = {10, 2500, 0.15, 800, {}};
  c.carriage_y_m = {-0.5, 0.6};
  c.payload_kg = {0, 20};
  c.limit = 2;
  for (Part part :
       {Part::motor_a,      Part::motor_b,       Part::stiffness_a,   Part::stiffness_b,   Part::damping_a,
        Part::damping_b,    Part::viscous_a,     Part::scale_a,       Part::scale_b,       Part::fixed_mass,
        Part::fixed_moment, Part::fixed_inertia, Part::carriage_mass, Part::yaw_stiffness, Part::yaw_damping,
        Part::bending_hz,   Part::bending_mass,  Part::bending_end,   Part::delay,         Part::lag}) {
    const double v = value_of(c.plant, part);
    DoubtfulPart p{part, DoubtfulPart::Scale::logarithm, v, {}};
    if (part == Part::fixed_moment) p.scale = DoubtfulPart::Scale::linear;
    if (part == Part::bending_end) p.scale = DoubtfulPart::Scale::end_shape;
    c.doubt.parts.push_back(p);
  }
  // Each by some thousandth, along directions that mix them all: strongly correlated.
  math::Random random(8);
  c.doubt.directions = 6;
  for (DoubtfulPart& p : c.doubt.parts) {
    p.along.resize(c.doubt.directions);
    for (double& x : p.along) x = 0.0015 * random.normal() * std::abs(p.value) / std::abs(slope_of(p));
  }
  c.doubt.radius = joint_radius(c.doubt.directions);
  return c;
}

double exact_peak(const CertificateCase& c, const dynamics::Plant& plant) {
  return simulation::stability(plant, c.settings).stable ? peak_sensitivity(plant, c.settings).peak : 1e9;
}

}  // namespace

TEST_CASE("what is proved holds for plants drawn from the whole range, and is not far above their worst") {
  const CertificateCase c = easy_case();
  const Certificate proof = certify(c);
  CAPTURE(proof.reason);
  CAPTURE(proof.boxes);
  CAPTURE(proof.hz);
  REQUIRE(proof.state == Certificate::State::proved);
  math::Random random(5);
  double worst = 0;
  for (int k = 0; k < 60; ++k) {
    const dynamics::Plant p = at_case(plant_at(c.plant, c.doubt, drawn_direction(c.doubt, 1, k % 2 == 0, random)),
                                      {random.uniform(c.carriage_y_m.low, c.carriage_y_m.high),
                                       random.uniform(c.payload_kg.low, c.payload_kg.high)});
    worst = std::max(worst, exact_peak(c, p));
  }
  CAPTURE(worst);
  CAPTURE(proof.bound);
  CHECK(worst <= proof.bound);
  CHECK(proof.bound <= c.limit);
}

TEST_CASE(
    "a promise that does not hold is never proved: the limit just below the true worst gives a counterexample") {
  CertificateCase c = easy_case();
  c.part_of_doubt = 0;
  double worst = 0;
  for (int i = 0; i <= 40; ++i)
    for (double payload : {0.0, 20.0})
      worst = std::max(worst, exact_peak(c, at_case(c.plant, {-0.5 + 1.1 * i / 40, payload})));
  c.limit = worst * 0.995;
  const Certificate no = certify(c);
  CAPTURE(no.reason);
  REQUIRE(no.state == Certificate::State::violated);
  CHECK(sensitivity_at(at_case(c.plant, {no.carriage_y_m, no.payload_kg}), c.settings, no.hz) > c.limit);
  c.limit = 2;
  CHECK(certify(c).state == Certificate::State::proved);
}

TEST_CASE("a planted instability narrower than any grid is found") {
  // A bending mode without damping to speak of, its frequency where the skew loop's force feeds it: the line is some
  // 1e-5 Hz wide. Frequency grids pass over it; so do carriage places where the mode is fed too little.
  CertificateCase c = easy_case();
  c.doubt = {};
  c.part_of_doubt = 0;
  c.plant.bending_damping = 0;
  c.plant.bending_mass_kg = 4;
  c.plant.bending_hz = 700;
  c.plant.a.viscous_n_s_per_m = c.plant.b.viscous_n_s_per_m = 0;
  c.plant.a.drive_damping_n_s_per_m = c.plant.b.drive_damping_n_s_per_m = 0;
  c.plant.bending_end_shape = -0.002;
  c.limit = 6;
  const dynamics::Plant at_middle = at_case(c.plant, {0.05, 10});
  const double on_grid = peak_sensitivity(at_middle, c.settings).peak;
  CAPTURE(on_grid);
  CAPTURE(simulation::stability(at_middle, c.settings).spectral_radius);
  const Certificate found = certify(c);
  CAPTURE(found.reason);
  CHECK(found.state == Certificate::State::violated);
  CHECK(on_grid < c.limit);
}

TEST_CASE("a wide joint doubt: what steepest ascent and draws find stays below the bound") {
  CertificateCase c = easy_case();
  for (DoubtfulPart& p : c.doubt.parts) p.along *= 3;
  c.limit = 3;
  c.most_boxes = 20000;
  c.carriage_y_m = {0.2, 0.3};
  const Certificate proof = certify(c);
  CAPTURE(proof.reason);
  CAPTURE(proof.hz);
  REQUIRE(proof.state == Certificate::State::proved);
  CertificateCase promised = c;
  promised.limit = 1.2;  // the search leaves out frequencies below three quarters of it
  const WorstFound worst = worst_found(promised);
  CHECK(worst.sensitivity <= proof.bound);
  promised.part_of_doubt = 0;
  CHECK(worst.sensitivity > 1.001 * worst_found(promised).sensitivity);  // the search goes somewhere
  math::Random random(21);
  for (int k = 0; k < 60; ++k) {
    const dynamics::Plant p = at_case(plant_at(c.plant, c.doubt, drawn_direction(c.doubt, 1, true, random)),
                                      {random.uniform(0.2, 0.3), random.uniform(0, 20)});
    CHECK(exact_peak(c, p) <= proof.bound);
  }
}

// Along the sensitivity's slope, to the edge of the part of the doubt that is asked.
TEST_CASE("steepest ascent ends on the edge of the doubt, and hardly any plant there is more sensitive") {
  CertificateCase c = easy_case();
  for (const double part : {0.3, 1.0}) {
    c.part_of_doubt = part;
    const Here here = here_of(c, 0.25, 10);
    const double hz = 45, fitted = sensitivity_at(at_case(c.plant, {0.25, 10}), c.settings, hz);
    const auto reached = [&](const Eigen::VectorXd& off) {
      return sensitivity_at(at_case(plant_at(c.plant, c.doubt, off), {0.25, 10}), c.settings, hz);
    };
    const Eigen::VectorXd up = steepest(c, here, hz, 1), down = steepest(c, here, hz, -1);
    CHECK(up.norm() == base::test::near(part * c.doubt.radius));
    CHECK(down.norm() == base::test::near(part * c.doubt.radius));
    const double gained = reached(up) - fitted;
    CHECK(gained > 0);
    math::Random random(13);  // and no plant of the edge gains clearly more
    for (int k = 0; k < 200; ++k)
      CHECK(reached(drawn_direction(c.doubt, part, true, random)) - fitted < 1.02 * gained);
  }
}

TEST_CASE("a limit below what one plant of the doubt reaches is refuted by a plant, not left undecided") {
  CertificateCase c = easy_case();
  for (DoubtfulPart& p : c.doubt.parts) p.along *= 3;
  const WorstFound worst = worst_found(c);
  CertificateCase fitted = c;
  fitted.part_of_doubt = 0;
  c.limit = (worst.sensitivity + worst_found(fitted).sensitivity) / 2;
  const Certificate no = certify(c);
  REQUIRE(no.state == Certificate::State::violated);
  REQUIRE(no.plant.has_value());
  CHECK(sensitivity_at(*no.plant, c.settings, no.hz) > c.limit);
}

TEST_CASE("an unstable loop and a mode near half the rate are not proved") {
  CertificateCase c = easy_case();
  c.settings.skew.velocity_gain_n_s_per_m *= 60;
  CHECK(certify(c).state == Certificate::State::violated);
  CertificateCase slow = easy_case();
  slow.settings.period_s = 2e-3;
  slow.settings.mean = {2, 1000, 0.5, 50, {}};
  slow.settings.skew = {2, 200, 0.5, 50, {}};
  slow.plant.delay_s = 2e-3;
  CHECK(certify(slow).state != Certificate::State::proved);
}

}  // namespace evenbeam::tuning
