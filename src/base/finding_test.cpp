#include "base/finding.h"

#include <doctest/doctest.h>

namespace evenbeam::base {

TEST_CASE("the worst finding is the station's verdict, and nothing looked at is not a pass") {
  CHECK(overall({}) == Verdict::not_done);
  CHECK(overall({{.id = "one", .verdict = Verdict::not_done}}) == Verdict::not_done);
  CHECK(overall({{.id = "one", .verdict = Verdict::pass}, {.id = "two", .verdict = Verdict::not_done}}) ==
        Verdict::pass);
  CHECK(overall({{.id = "one", .verdict = Verdict::stop}, {.id = "two", .verdict = Verdict::attention}}) ==
        Verdict::stop);
}

}  // namespace evenbeam::base
