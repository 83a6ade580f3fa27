#include "recording/signal_checks.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"

namespace evenbeam::recording {

TEST_CASE("the count is what all steps are multiples of, not the smallest step met") {
  std::vector<double> fast{0};
  for (int k = 1; k < 400; ++k) fast.push_back(fast.back() + (k % 3 == 0 ? 5e-6 : k % 3 == 1 ? 7e-6 : 12e-6));
  CHECK(smallest_count(fast) == base::test::near(1e-6).epsilon(1e-6));
}

TEST_CASE("printed digits do not make the count finer") {
  std::vector<double> slow;
  for (int k = 0; k < 2000; ++k) slow.push_back(std::round(0.3 * k) * 12.5e-6 + 0.4);
  CHECK(smallest_count(slow) == base::test::near(12.5e-6).epsilon(1e-3));
  CHECK(smallest_count({1, 1, 1}) == 0);
  CHECK(smallest_count({}) == 0);
}

}  // namespace evenbeam::recording
