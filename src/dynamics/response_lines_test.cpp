#include "dynamics/response_lines.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <random>

#include "dynamics/sample_plant_test.h"

using namespace evenbeam;

TEST_CASE("folded motors answer as the whole matrix solved by LU, any topology, any number of lines") {
  std::mt19937_64 draw(7);
  for (int k = 0; k < 200; ++k) {
    const dynamics::Plant plant = dynamics::test::random_plant(draw);
    const double period_s = k % 3 == 0 ? 0 : 1e-4;
    std::vector<double> w;
    for (int i = 0; i < 1 + k % 37; ++i) w.push_back(2 * M_PI * 0.3 * std::pow(1.31, i));
    const auto whole = dynamics::linear_response(plant, period_s, w);
    std::vector<dynamics::SideResponse> lines;
    dynamics::responses(plant, dynamics::response_lines(w, period_s, plant.delay_s, plant.current_lag_s), lines);
    REQUIRE(lines.size() == whole.size());
    for (size_t i = 0; i < w.size(); ++i) {
      const auto &p = lines[i], &q = whole[i];
      const double off =
          std::max({std::abs(p.aa - q.aa), std::abs(p.ab - q.ab), std::abs(p.ba - q.ba), std::abs(p.bb - q.bb)});
      CAPTURE(k);
      CAPTURE(w[i]);
      CHECK(off < 1e-9 * std::max(std::abs(q.aa), std::abs(q.bb)));  // some 1e-11 where motors ring
    }
  }
}
