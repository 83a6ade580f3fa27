#pragma once
// What an import gave, held against the synthetic capture it was made from.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "recording/import.h"
#include "recording/synthetic_test.h"

namespace evenbeam::recording::test {

// Column names that tell no unit.
inline const std::vector<std::string> bare_names{"time", "A.Ref", "B.Ref", "A.Act", "B.Act", "A.Out", "B.Out"};

inline void check_same(const std::vector<double>& seen, const std::vector<double>& truth, double tolerance,
                       const std::string& what) {
  INFO(what);
  REQUIRE(seen.size() == truth.size());
  double worst = 0;
  for (std::size_t k = 0; k < truth.size(); ++k) worst = std::max(worst, std::abs(seen[k] - truth[k]));
  CHECK(worst <= tolerance);
}

inline void check_columns(const ImportResult& result, const Capture& truth, const std::string& what) {
  const Recording& r = result.recording;
  CHECK(std::abs(r.period_s / truth.period_s - 1) < 1e-9);
  check_same(r.reference_a_m, truth.reference_a_m, 1e-9, what + ": reference A");
  check_same(r.reference_b_m, truth.reference_b_m, 1e-9, what + ": reference B");
  check_same(r.position_a_m, truth.position_a_m, 1e-9, what + ": position A");
  check_same(r.position_b_m, truth.position_b_m, 1e-9, what + ": position B");
  check_same(r.force_a_n, truth.force_a_n, 1e-3, what + ": output A");
  check_same(r.force_b_n, truth.force_b_n, 1e-3, what + ": output B");
}

}  // namespace evenbeam::recording::test
