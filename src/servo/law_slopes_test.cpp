#include "servo/law_slopes.h"

#include <doctest/doctest.h>

#include <cmath>
#include <vector>

#include "servo/law_response.h"

namespace evenbeam::servo {
namespace {

std::vector<double*> settings_of(machine::CoordinateLoop& c) {
  std::vector<double*> out{&c.velocity_gain_n_s_per_m, &c.velocity_integral_s, &c.position_gain_per_s,
                           &c.velocity_filter_hz};
  for (machine::Biquad& f : c.filters) out.insert(out.end(), {&f.hz, &f.zn, &f.zd});
  return out;
}

}  // namespace

TEST_CASE("slopes of the law's response are those of differences, and the response is the law's own") {
  const double period_s = 2.5e-4;
  const machine::CoordinateLoop loop{12, 8000, 0.05, 300, {{55, 0.2, 0.8}, {410, 0.9, 0.4}}};
  for (double w : {0.5, 30.0, 350.0, 2500.0, 11000.0}) {
    const ResponseSlopes at = response_slopes(loop, period_s, w);
    const std::complex<double> direct = response(prepare(loop, period_s), w);
    CAPTURE(w);
    CHECK(std::abs(at.response / direct - 1.0) < 1e-9);
    REQUIRE(at.count == 10);
    for (int i = 0; i < at.count; ++i) {
      machine::CoordinateLoop less = loop, more = loop;
      constexpr double kStep = 1e-5;
      *settings_of(less)[static_cast<size_t>(i)] *= std::exp(-kStep);
      *settings_of(more)[static_cast<size_t>(i)] *= std::exp(kStep);
      const auto difference =
          (response(prepare(more, period_s), w) - response(prepare(less, period_s), w)) / (2 * kStep * direct);
      CAPTURE(i);
      CHECK(std::abs(difference - at.slope[static_cast<size_t>(i)]) < 1e-6 * (1 + std::abs(difference)));
    }
  }
}

}  // namespace evenbeam::servo
