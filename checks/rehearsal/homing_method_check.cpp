// Numbers of homing methods after CiA 402 / IEC 61800-7-201 (from memory): 1, 2 limit (negative, positive) with
// index; 3-6 home edge with index; 7-14 home with limits and index; 17-30 as 1-14 without index; 15, 16, 31, 32
// reserved; 33, 34 next index negative, positive; 35 (old) and 37 present position.
#include <doctest/doctest.h>

#include "rehearsal/homing_method.h"

using namespace evenbeam::rehearsal;

TEST_CASE("homing method numbers") {
  const auto row = [](int from, int to, HomingSwitch on) {
    for (int code = from; code <= to; ++code)
      for (const int other : {code, code + 16}) {
        CAPTURE(other);
        const auto method = homing_method(other);
        REQUIRE(method);
        CHECK(method->on == on);
        CHECK(method->index == (other == code));
        CHECK(method->moves);
      }
  };
  row(1, 1, HomingSwitch::negative_limit);
  row(2, 2, HomingSwitch::positive_limit);
  row(3, 6, HomingSwitch::home_edge);
  row(7, 14, HomingSwitch::home_edge_with_limits);
  CHECK(!homing_method(1)->starts_positive);
  CHECK(homing_method(2)->starts_positive);
  for (const int reserved : {15, 16, 31, 32, 36, 38, 39, 0, -1, 1000}) CHECK(!homing_method(reserved));
  for (const int next : {33, 34}) {
    CHECK(homing_method(next)->on == HomingSwitch::none);
    CHECK(homing_method(next)->index);
    CHECK(homing_method(next)->starts_positive == (next == 34));
  }
  for (const int present : {35, 37}) {
    CHECK(!homing_method(present)->moves);
    CHECK(!homing_method(present)->index);
    CHECK(homing_method(present)->old == (present == 35));
  }
}

TEST_CASE("of all methods only the present place suits a side alone") {
  for (int code = -5; code <= 40; ++code)
    if (const auto method = homing_method(code))
      CHECK(fit_for_each_side_alone(*method) == (code == 35 || code == 37));
}
