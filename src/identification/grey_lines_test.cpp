#include "identification/grey_lines.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "math/random.h"

namespace evenbeam::identification {
namespace {

// |G| = 1 at every line, noise that grows with frequency past the choice's threshold, its variance told by a few
// periods only: `freedom` squares of normal numbers.
signal::Response noisy_response(std::uint64_t seed, int freedom) {
  math::Random random(seed);
  signal::Response r;
  r.state = signal::ResponseState::done;
  for (int i = 0; i < 400; ++i) {
    const double hz = 20 + 0.5 * i, sd = 0.01 * std::exp(0.02 * i);
    const auto noise = [&] { return Complex(random.normal(), random.normal()) * (sd / std::sqrt(2.0)); };
    r.frequency_hz.push_back(hz);
    r.g.push_back({1.0 + noise(), 0.2 + noise(), 0.2 + noise(), 1.0 + noise()});
    double told = 0;
    for (int n = 0; n < freedom; ++n) told += std::pow(random.normal(), 2) / freedom;
    signal::ResponseCovariance covariance{};
    for (size_t k = 0; k < 4; ++k) covariance[5 * k] = sd * sd * told;
    r.covariance.push_back(covariance);
  }
  return r;
}

}  // namespace

TEST_CASE("noisy lines are not those that came out large") {
  double sum = 0, count = 0, top = 0;
  for (std::uint64_t seed = 1; seed <= 20; ++seed)
    for (const GreyLine& line : choose_lines(noisy_response(seed, 4), 0).used) {
      top = std::max(top, line.hz);
      if (line.hz < 90) continue;  // deviations of 0.16 and more
      sum += line.g[0].real(), count += 1;
    }
  CAPTURE(count);
  REQUIRE(count > 200);
  CHECK(top > 100);
  CHECK(top < 125);  // 0.3 is passed at 105 Hz
  CHECK(std::abs(sum / count - 1) < 0.02);
}

TEST_CASE("a deviation is that of the neighbourhood, and a line's own where that is larger") {
  signal::Response r = noisy_response(1, 1000);
  r.covariance[100][0] = 0;        // came out small by luck
  r.covariance[200][0] = 4 * 0.3;  // a tone
  const auto lines = choose_lines(r, 0).used;
  for (const GreyLine& line : lines) {
    const double sd = 0.01 * std::exp(0.04 * (line.hz - 20)), all = std::hypot(sd, 0.01);
    CAPTURE(line.hz);
    CHECK(line.hz != 120);  // the tone drowns it
    if (line.hz < 115) CHECK(line.sigma[0] == base::test::near(all).epsilon(0.2));
  }
}

}  // namespace evenbeam::identification
