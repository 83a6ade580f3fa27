// Bilinear notch, prewarped: coefficients of the textbook design as scipy.signal.iirnotch gives them (rows 4.26 and
// 4.27 of the catalogue of outside checks), and more of them from scipy 1.10 (scipy.signal.iirnotch, 12 digits).
#include <doctest/doctest.h>

#include <cmath>

#include "signal/filter.h"

using namespace evenbeam;

TEST_CASE("notch coefficients against scipy") {
  struct Row {
    double rate_hz, hz, quality, b0, b1, a2, tolerance;
  };
  const Row rows[] = {
      {200, 60, 30, .96953125, .59920327, .93906251, 1e-7},
      {8000, 120, 5, .99066295, -1.9725327, .98132589, 1e-7},
      {10000, 57, 2, 0.991125680364, -1.9809802255, 0.982251360729, 1e-11},
      {10000, 210, 0.8, 0.923655902007, -1.83125428828, 0.847311804015, 1e-11},
      {5000, 2300, 12, 0.892050079054, 1.72804937091, 0.784100158108, 1e-11},
  };
  for (const Row& row : rows) {
    const auto f = signal::quality_notch(row.hz, row.quality, 1 / row.rate_hz);
    INFO("notch at ", row.hz);
    CHECK(std::abs(f.b0 - row.b0) < row.tolerance);
    CHECK(std::abs(f.b2 - row.b0) < row.tolerance);
    CHECK(std::abs(f.b1 - row.b1) < row.tolerance);
    CHECK(std::abs(f.a1 - row.b1) < row.tolerance);
    CHECK(std::abs(f.a2 - row.a2) < row.tolerance);
  }
}
