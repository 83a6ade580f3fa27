#include "report/labels.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>

#include "base/near_test.h"

using namespace evenbeam::report;

TEST_CASE("labels in a column never overlap, keep their order and stay inside where they fit") {
  std::mt19937 random(17);
  std::uniform_real_distribution<double> place(-20, 220);
  for (int round = 0; round < 1000; ++round) {
    std::vector<ColumnLabel> labels(1 + random() % 9);
    double total = 0;
    for (ColumnLabel& l : labels)
      l = {place(random), 13.0 * (1.0 + static_cast<double>(random() % 2))}, total += l.height;
    const std::vector<double> centres = spread(labels, 0, 240);
    REQUIRE(total <= 240);
    for (size_t i = 0; i < labels.size(); ++i) {
      INFO("seed 17, round " << round);
      CHECK(centres[i] - labels[i].height / 2 >= -1e-9);
      CHECK(centres[i] + labels[i].height / 2 <= 240 + 1e-9);
      for (size_t j = 0; j < labels.size(); ++j) {
        if (i == j) continue;
        CHECK(std::abs(centres[i] - centres[j]) >= (labels[i].height + labels[j].height) / 2 - 1e-9);
        if (labels[i].wish < labels[j].wish) CHECK(centres[i] < centres[j]);
      }
    }
  }
}

TEST_CASE("a label that has room stays where it wants to be; two rivals part evenly") {
  CHECK(spread({{50, 10}}, 0, 100) == std::vector<double>{50});
  const auto two = spread({{50, 10}, {50, 10}}, 0, 100);
  CHECK(two[0] == evenbeam::base::test::near(45));
  CHECK(two[1] == evenbeam::base::test::near(55));
}

TEST_CASE("the best place covers no label and the least ink") {
  const std::vector<Box> candidates = {{0, 0, 10, 10}, {20, 0, 30, 10}, {40, 0, 50, 10}};
  CHECK(best_place(candidates, {}, {}) == 0);
  CHECK(best_place(candidates, {{5, 5, 6, 6}}, {{25, 5}}) == 2);
  CHECK(best_place(candidates, {{0, 0, 100, 100}}, {}) == -1);
}
