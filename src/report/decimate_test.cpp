#include "report/decimate.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <random>

#include "base/near_test.h"

using namespace evenbeam::report;

namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

std::pair<double, double> extent(const std::vector<Piece>& pieces) {
  double low = 1e300, high = -1e300;
  for (const Piece& piece : pieces)
    for (const Point& p : piece) low = std::min(low, p.y), high = std::max(high, p.y);
  return {low, high};
}

size_t count(const std::vector<Piece>& pieces) {
  size_t n = 0;
  for (const Piece& piece : pieces) n += piece.size();
  return n;
}

}  // namespace

TEST_CASE("a spike of one sample among a million survives, and the size does not grow") {
  const size_t n = 1'000'000;
  std::vector<double> x(n), y(n);
  std::mt19937 random(5);
  for (size_t i = 0; i < n; ++i) x[i] = static_cast<double>(i), y[i] = 1e-3 * static_cast<double>(random() % 1000);
  for (const size_t at : {size_t{1}, size_t{333'333}, n - 2}) {
    std::vector<double> spiked = y;
    spiked[at] = 50, spiked[n - 1 - at] = -50;
    const Scale sx{0, static_cast<double>(n), false, 0, 560, 1}, sy{-50, 50, false, 200, 0, 1};
    const auto pieces = decimate_line(x, spiked, sx, sy);
    CHECK(std::abs(extent(pieces).first) < 1e-9);  // y grows downwards: +50 is at the top
    CHECK(extent(pieces).second == evenbeam::base::test::near(200));
    CHECK(count(pieces) <= 3000);
    CHECK(count(pieces) >= 1000);
  }
}

TEST_CASE("every column keeps its lowest and highest sample, in any data") {
  std::mt19937 random(9);
  std::uniform_real_distribution<double> part(0, 1);
  for (int round = 0; round < 40; ++round) {
    const size_t n = 1 + random() % 4000;
    std::vector<double> x(n), y(n);
    for (size_t i = 0; i < n; ++i)
      x[i] = static_cast<double>(i) / static_cast<double>(n), y[i] = part(random) < 0.002 ? missing : part(random);
    const Scale sx{0, 1, false, 0, 100, 1}, sy{0, 1, false, 0, 100, 1};
    const auto pieces = decimate_line(x, y, sx, sy, 100000);
    std::vector<double> low(101, 1e9), high(101, -1e9), low_kept(101, 1e9), high_kept(101, -1e9);
    for (size_t i = 0; i < n; ++i) {
      if (std::isnan(y[i])) continue;
      const auto column = static_cast<size_t>(std::floor(place(sx, x[i])));
      low[column] = std::min(low[column], place(sy, y[i])), high[column] = std::max(high[column], place(sy, y[i]));
    }
    for (const Piece& piece : pieces)
      for (const Point& p : piece) {
        const auto column = static_cast<size_t>(std::floor(p.x));
        low_kept[column] = std::min(low_kept[column], p.y), high_kept[column] = std::max(high_kept[column], p.y);
      }
    INFO("seed 9, round " << round);
    CHECK(low == low_kept);
    CHECK(high == high_kept);
  }
}

TEST_CASE("missing samples are gaps, never bridged") {
  const std::vector<double> x = {0, 1, 2, 3, 4, 5, 6}, y = {1, 1, missing, 1, missing, missing, 1};
  const Scale s{0, 10, false, 0, 1000, 1};
  const auto pieces = decimate_line(x, y, s, s);
  REQUIRE(pieces.size() == 3);
  CHECK(pieces[0].size() == 2);
  CHECK(pieces[1].size() == 1);  // alone between two gaps: still drawn
  CHECK(pieces[2].size() == 1);
  CHECK(decimate_line({0, 1}, {missing, missing}, s, s).empty());
  CHECK(decimate_band(x, y, y, s, s).size() == 3);
}

TEST_CASE("what a logarithmic axis cannot show is missing") {
  const Scale sx{0, 4, false, 0, 100, 1}, sy{0.1, 10, true, 0, 100, 1};
  CHECK(decimate_line({0, 1, 2, 3}, {1, 0, -1, 1}, sx, sy).size() == 2);
  CHECK(place(sy, 1) == evenbeam::base::test::near(50));
}

TEST_CASE("x that jumps about still gives a bounded drawing") {
  std::mt19937 random(13);
  std::uniform_real_distribution<double> part(0, 1);
  std::vector<double> x(200'000), y(200'000);
  for (size_t i = 0; i < x.size(); ++i) x[i] = part(random), y[i] = part(random);
  y[77'777] = 2;
  const Scale sx{0, 1, false, 0, 560, 1}, sy{0, 2, false, 0, 200, 1};
  const auto pieces = decimate_line(x, y, sx, sy);
  CHECK(count(pieces) <= 3000);
  CHECK(extent(pieces).second == evenbeam::base::test::near(200));
  CHECK(decimate_points(x, y, sx, sy).size() <= 1500);
}
