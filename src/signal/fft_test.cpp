#include "signal/fft.h"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

#include "base/near_test.h"
#include "math/random.h"

using namespace evenbeam;

namespace {
std::vector<double> noise(std::size_t length, math::Random& random) {
  std::vector<double> x(length);
  for (double& v : x) v = random.normal();
  return x;
}
}  // namespace

TEST_CASE("lines against the defining sum, lengths odd, even, prime and 1") {
  math::Random random(11);
  for (const std::size_t length : {1u, 2u, 3u, 8u, 15u, 64u, 97u, 100u}) {
    const auto x = noise(length, random);
    const auto lines = signal::forward_transform(x);
    REQUIRE(lines.size() == length / 2 + 1);
    for (std::size_t k = 0; k < lines.size(); ++k) {
      std::complex<double> sum = 0;
      for (std::size_t n = 0; n < length; ++n)
        sum += x[n] * std::polar(1.0, -2 * std::numbers::pi * static_cast<double>(k * n % length) /
                                          static_cast<double>(length));
      INFO("seed 11, length ", length, " line ", k);
      CHECK(std::abs(sum - lines[k]) < 1e-12 * static_cast<double>(length));
    }
  }
}

TEST_CASE("Parseval, and back again, for many lengths") {
  math::Random random(12);
  for (int round = 0; round < 60; ++round) {
    const std::size_t length = round == 0 ? 100003 : 1 + random.below(3000);
    INFO("seed 12, round ", round, " length ", length);
    const auto x = noise(length, random);
    const auto lines = signal::forward_transform(x);
    double in_time = 0, in_lines = 0;
    for (const double v : x) in_time += v * v;
    for (std::size_t k = 0; k < lines.size(); ++k)
      in_lines += (k == 0 || 2 * k == length ? 1.0 : 2.0) * std::norm(lines[k]);
    CHECK(in_lines / static_cast<double>(length) == base::test::near(in_time).epsilon(1e-12));
    const auto back = signal::inverse_transform(lines, length);
    double worst = 0;
    for (std::size_t n = 0; n < length; ++n) worst = std::max(worst, std::abs(back[n] - x[n]));
    CHECK(worst < 1e-13);
  }
}

TEST_CASE("a planned transform run twice gives the same, and keeps its input") {
  math::Random random(13);
  signal::ForwardTransform transform(1000);
  const auto x = noise(1000, random);
  std::copy(x.begin(), x.end(), transform.input().begin());
  transform.run();
  const std::vector<std::complex<double>> first(transform.lines().begin(), transform.lines().end());
  CHECK(std::equal(x.begin(), x.end(), transform.input().begin()));
  transform.run();
  CHECK(std::equal(first.begin(), first.end(), transform.lines().begin()));
  signal::ForwardTransform moved = std::move(transform);
  moved.run();
  CHECK(moved.lines()[17] == first[17]);
}
