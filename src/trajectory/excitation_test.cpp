#include "trajectory/excitation.h"

#include <doctest/doctest.h>

#include <cmath>
#include <complex>

#include "base/input_error.h"
#include "base/near_test.h"
#include "trajectory/travel.h"

using namespace evenbeam;

namespace {

double line_size(const std::vector<double>& x, double cycles) {
  std::complex<double> sum = 0;
  for (size_t k = 0; k < x.size(); ++k)
    sum += x[k] * std::polar(1.0, -2 * M_PI * cycles * double(k) / double(x.size()));
  return std::abs(sum) * 2 / double(x.size());
}

}  // namespace

TEST_CASE("multisine: equal lines where asked, nothing elsewhere, peak as asked, same seed same signal") {
  const trajectory::Multisine m{120, 3, 200, 0.5, 2, 20, 7};
  const auto s = trajectory::multisine(m, 1e-3);
  REQUIRE(s.one_repeat_n.size() == 500);
  double peak = 0;
  for (double value : s.one_repeat_n) peak = std::max(peak, std::abs(value));
  CHECK(peak == base::test::near(120).epsilon(1e-12));
  CHECK(s.line_hz.front() == 6);  // lines 3, 5, ... of 2 Hz
  const double size = line_size(s.one_repeat_n, 3);
  for (int line = 1; line < 250; ++line) {
    CAPTURE(line);
    const bool lit = line % 2 == 1 && line >= 3 && line <= 100;
    REQUIRE(std::abs(line_size(s.one_repeat_n, line) - (lit ? size : 0)) < 1e-9 * 120);
  }
  CHECK(s.crest_factor < 3.2);
  CHECK(trajectory::multisine(m, 1e-3).one_repeat_n == s.one_repeat_n);
  CHECK_THROWS_AS(trajectory::multisine({1, 3, 600, 0.5}, 1e-3), base::InputError);
  CHECK_THROWS_AS(trajectory::multisine({1, 3, 100, 0.5003}, 1e-3), base::InputError);
}

TEST_CASE("chirp starts and ends quietly and keeps its level; pulses last as long as asked") {
  const auto c = trajectory::chirp({50, 5, 200, 2}, 1e-3);
  REQUIRE(c.size() == 2000);
  CHECK(c.front() == 0);
  CHECK(std::abs(c.back()) < 0.5);
  double peak = 0;
  for (double value : c) peak = std::max(peak, std::abs(value));
  CHECK(peak <= 50);
  CHECK(peak > 49);
  const auto p = trajectory::pulses({100, -100}, 0.05, 0.2, 1e-3);
  REQUIRE(p.size() == 200 + 2 * 250);
  CHECK(p[199] == 0);
  CHECK(p[200] == 100);
  CHECK(p[249] == 100);
  CHECK(p[250] == 0);
  CHECK(p[450] == -100);
}

TEST_CASE("jog joins its pieces; stopping distance by formula; a search's travel adds up") {
  const trajectory::MoveLimits limits{1, 4, 80};
  const auto pieces = trajectory::jog({0.2, 0, 0}, -0.5, 1.5, limits);
  REQUIRE(pieces.size() == 3);
  for (int i = 0; i < 2; ++i) {
    CHECK(trajectory::at(pieces[i + 1], 0).position_m == base::test::near(pieces[i].end.position_m).epsilon(1e-14));
    CHECK(pieces[i].end.velocity_m_per_s == -0.5);
  }
  CHECK(pieces[2].end.velocity_m_per_s == 0);
  CHECK(trajectory::stopping_distance_m(0.5, limits) == base::test::near(0.25 / 8 + 0.5 * 4 / 160).epsilon(1e-12));
  CHECK(trajectory::stopping_distance_m(0.02, limits) ==
        base::test::near(0.02 * std::sqrt(0.02 / 80)).epsilon(1e-12));
  const auto travel = trajectory::search_travel(0.02, 0.001, 0.01, limits);
  CHECK(travel.total_m == base::test::near(2 * 0.02 * std::sqrt(0.02 / 80) + 0.001 + 0.0002).epsilon(1e-12));
}
