#include "identification/measured_modes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "dynamics/linear_response.h"
#include "dynamics/sample_plant_test.h"

namespace evenbeam::identification {
namespace {

constexpr double kTop_hz = 400;

signal::Response response_of(const dynamics::Plant& plant) {
  signal::Response r;
  r.state = signal::ResponseState::done;
  r.line_spacing_hz = 0.5;
  const dynamics::ResponseModel model = dynamics::response_model(plant, 0);
  for (double hz = 1; hz <= kTop_hz; hz += r.line_spacing_hz) {
    const dynamics::SideResponse g = dynamics::response(model, 2 * std::numbers::pi * hz);
    r.frequency_hz.push_back(hz);
    r.g.push_back({g.aa, g.ab, g.ba, g.bb});
    signal::ResponseCovariance covariance{};
    for (std::size_t e = 0; e < 4; ++e) covariance[5 * e] = 1e-6 * std::norm(g.aa);
    r.covariance.push_back(covariance);
  }
  return r;
}

GreyFit fit_of(const dynamics::Plant& plant) {
  GreyFit grey;
  grey.done = true;
  grey.plant = plant;
  for (double hz = 1; hz <= kTop_hz; hz += 0.5) grey.hz.push_back(hz);
  return grey;
}

}  // namespace

TEST_CASE("modes are the response's, not the fitted plant's; the interval reaches from one to the other") {
  const dynamics::Plant truth = dynamics::test::full_plant();
  dynamics::Plant fitted = truth;
  fitted.yaw_stiffness_n_m_per_rad *= 1.01;
  fitted.a.drive_stiffness_n_per_m *= 0.99;
  const signal::Response response = response_of(truth);
  const auto modes = measured_modes(fit_of(fitted), &response);
  const auto all = dynamics::modes(truth);
  REQUIRE(modes.size() == all.size());
  int read = 0;
  for (std::size_t k = 0; k < all.size(); ++k) {
    if (!modes[k].read) continue;
    ++read;
    CAPTURE(all[k].hz);
    CHECK(std::abs(modes[k].hz.value - all[k].hz) <= std::abs(modes[k].model.hz - all[k].hz) + 1e-4 * all[k].hz);
    CHECK(modes[k].hz.lower <= all[k].hz);
    CHECK(modes[k].hz.upper >= all[k].hz);
    CHECK(modes[k].hz.lower <= modes[k].model.hz * (1 + 1e-12));
    CHECK(modes[k].hz.upper >= modes[k].model.hz * (1 - 1e-12));
    CHECK(std::max(std::abs(modes[k].shape_a), std::abs(modes[k].shape_b)) == base::test::near(1));
  }
  CHECK(read >= 2);
  CHECK(modes.front().model.name == "yaw");
  CHECK(modes.front().shape_a * modes.front().shape_b < 0);
}

TEST_CASE("what lies beyond the lines is not read, and neither is anything without a response") {
  const dynamics::Plant plant = dynamics::test::full_plant();
  const signal::Response response = response_of(plant);
  GreyFit grey = fit_of(plant);
  const double cut = 1.2 * dynamics::modes(plant).front().hz;
  std::erase_if(grey.hz, [&](double hz) { return hz > cut; });
  const auto modes = measured_modes(grey, &response);
  CHECK(modes.front().read);
  CHECK_FALSE(modes.back().read);
  CHECK(modes.back().why_not == "outside the measured lines");
  for (const MeasuredMode& m : measured_modes(grey, nullptr)) CHECK_FALSE(m.read);
  CHECK(measured_modes({}, &response).empty());
}

TEST_CASE("over the carriage's range each mode is followed by its shape; measured is one place alone") {
  const dynamics::Plant plant = dynamics::test::full_plant();
  const signal::Response response = response_of(plant);
  const GreyFit grey = fit_of(plant);
  const auto modes = measured_modes(grey, &response);
  const auto places = modes_over_carriage(grey, modes, -0.5, 0.5, 5);
  REQUIRE(places.size() >= 5);
  const auto uneven = modes_over_carriage(grey, modes, -0.6, 0.2, 5);
  CHECK(uneven.front().carriage_y_m == base::test::near(std::min(-0.6, plant.carriage_y_m)));
  CHECK(uneven.back().carriage_y_m == base::test::near(std::max(0.2, plant.carriage_y_m)));
  CHECK(std::count_if(places.begin(), places.end(), [](const auto& p) { return p.measured; }) == 1);
  for (std::size_t i = 0; i < places.size(); ++i) {
    REQUIRE(places[i].hz.size() == modes.size());
    if (places[i].measured)
      for (std::size_t k = 0; k < modes.size(); ++k)
        CHECK(places[i].hz[k] == base::test::near(modes[k].read ? modes[k].hz.value : modes[k].model.hz));
    if (i == 0) continue;
    CHECK(places[i].carriage_y_m > places[i - 1].carriage_y_m);
    CHECK(std::abs(places[i].hz[0] / places[i - 1].hz[0] - 1) < 0.2);
  }
}

}  // namespace evenbeam::identification
