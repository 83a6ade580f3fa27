#include "machine/nearest_word.h"

#include <doctest/doctest.h>

#include <random>

namespace evenbeam::machine {

TEST_CASE("distances worked out by hand") {
  CHECK(edit_distance("", "") == 0);
  CHECK(edit_distance("span", "span") == 0);
  CHECK(edit_distance("spna", "span") == 1);  // neighbours swapped
  CHECK(edit_distance("spn", "span") == 1);
  CHECK(edit_distance("spaan", "span") == 1);
  CHECK(edit_distance("spun", "span") == 1);
  CHECK(edit_distance("kitten", "sitting") == 3);
  CHECK(edit_distance("", "lead") == 4);
}

TEST_CASE("distance is symmetric, and no longer than the longer word") {
  const unsigned seed = 11;
  CAPTURE(seed);
  std::mt19937 random(seed);
  const auto word = [&] {
    std::string text;
    for (size_t n = random() % 9; n > 0; --n) text += static_cast<char>('a' + random() % 3);
    return text;
  };
  for (int i = 0; i < 2000; ++i) {
    const std::string a = word(), b = word();
    const int distance = edit_distance(a, b);
    CHECK(distance == edit_distance(b, a));
    CHECK(distance <= static_cast<int>(std::max(a.size(), b.size())));
    CHECK((distance == 0) == (a == b));
  }
}

TEST_CASE("a near word is named, a far one is not") {
  const std::vector<std::string> words = {"peak_force", "continuous_force", "lead", "mass", "count"};
  CHECK(nearest_word("peek_forse", words) == "peak_force");
  CHECK(nearest_word("laed", words) == "lead");
  CHECK(nearest_word("mass_kg", words) == "mass");
  CHECK_FALSE(nearest_word("colour", words));
  CHECK_FALSE(nearest_word("x", words));
  CHECK_FALSE(nearest_word(std::string(1000, 'a'), words));
}

}  // namespace evenbeam::machine
