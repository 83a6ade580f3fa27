// ISO 230-2:2014 parameters: a table worked by hand from the definitions (derived), its invariants, and random tables
// against a second implementation in another language (make_iso230_2_data.py, data stored beside it).
#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <random>
#include <sstream>

#include "acceptance/iso230_2.h"
#include "base/near_test.h"

using namespace evenbeam::acceptance;

namespace {

std::vector<double> values_of(const Positioning& p) {
  std::vector<double> out;
  for (const NamedParameter& parameter : named_parameters(p)) out.push_back(parameter.value_m);
  return out;  // B, Bmean, M, Eup, Edn, E, Rup, Rdn, R, Aup, Adn, A
}

std::vector<TargetRuns> random_table(std::mt19937& random) {
  std::normal_distribution<double> g;
  std::vector<TargetRuns> out;
  for (int i = 0; i < 6; ++i) {
    TargetRuns r{.target_m = 0.2 * i};
    for (int j = 0; j < 5; ++j) r.up_m.push_back(1e-6 * g(random)), r.down_m.push_back(2e-6 * g(random) + 1e-6);
    out.push_back(r);
  }
  return out;
}

template <typename Change>
std::vector<double> changed(std::vector<TargetRuns> table, Change change) {
  for (TargetRuns& r : table) {
    for (double& x : r.up_m) x = change(x);
    for (double& x : r.down_m) x = change(x);
  }
  return values_of(positioning(table));
}

}  // namespace

TEST_CASE("five targets, equal runs: by hand from the definitions (derived)") {
  std::vector<TargetRuns> table;
  const double up[] = {1e-6, 2e-6, 3e-6, 2e-6, 1e-6};
  for (int i = 0; i < 5; ++i)
    table.push_back({0.25 * i, std::vector<double>(5, up[i]), std::vector<double>(5, up[i] - 4e-6)});
  const Positioning p = positioning(table);
  const double want[] = {4e-6, 4e-6, 2e-6, 2e-6, 2e-6, 6e-6, 0, 0, 4e-6, 2e-6, 2e-6, 6e-6};
  const auto got = values_of(p);
  for (std::size_t k = 0; k < got.size(); ++k) CHECK(std::abs(got[k] - want[k]) < 1e-15);
  for (const TargetStatistics& t : p.targets) CHECK(t.deviation_up_m == 0);
  CHECK(p.short_of_plan.empty());
}

TEST_CASE("shift, scale and swapped directions (derived from the definitions)") {
  constexpr unsigned seed = 13;
  std::mt19937 random(seed);
  for (int k = 0; k < 50; ++k) {
    CAPTURE(seed);
    CAPTURE(k);
    const auto table = random_table(random);
    const auto plain = values_of(positioning(table));
    const auto shifted = changed(table, [](double x) { return x + 7e-6; });
    const auto scaled = changed(table, [](double x) { return -3 * x; });
    auto swapped_table = table;
    for (TargetRuns& r : swapped_table) std::swap(r.up_m, r.down_m);
    const auto swapped = values_of(positioning(swapped_table));
    const std::size_t pair_of[] = {0, 1, 2, 4, 3, 5, 7, 6, 8, 10, 9, 11};  // up and down change places
    for (std::size_t i = 0; i < plain.size(); ++i) {
      const double sign = i == 1 ? -1 : 1;  // only the mean reversal has one
      CHECK(std::abs(shifted[i] - plain[i]) < 1e-18);
      CHECK(std::abs(scaled[i] - 3 * sign * plain[i]) < 1e-18);
      CHECK(std::abs(swapped[i] - sign * plain[pair_of[i]]) < 1e-18);
    }
  }
}

TEST_CASE("random tables against the second implementation") {
  std::ifstream file(EVENBEAM_SOURCE_DIR "/checks/acceptance/data/iso230_2.csv");
  REQUIRE(file);
  std::vector<TargetRuns> table;
  int tables = 0;
  for (std::string line; std::getline(file, line);) {
    std::istringstream in(line);
    std::string word, direction;
    std::getline(in, word, ',');
    if (word == "table") table.clear();
    std::vector<double> numbers;
    for (std::string cell; std::getline(in, cell, ',');)
      cell == "up" || cell == "down" ? void(direction = cell) : numbers.push_back(std::stod(cell));
    if (word == "run") {
      if (direction == "up") table.push_back({.target_m = numbers[0]});
      (direction == "up" ? table.back().up_m : table.back().down_m).assign(numbers.begin() + 1, numbers.end());
    }
    if (word != "want") continue;
    ++tables;
    const auto got = values_of(positioning(table));
    REQUIRE(got.size() == numbers.size());
    for (std::size_t k = 0; k < got.size(); ++k)
      CHECK(got[k] == evenbeam::base::test::near(numbers[k]).epsilon(1e-11));
  }
  CHECK(tables == 40);
}

// NIST StRD, univariate summary statistics NumAcc1 to NumAcc4 (data and certified values from memory: they are made
// by rule). Mean and sample standard deviation of one target's runs, large means beside small scatter.
TEST_CASE("NIST NumAcc1 to NumAcc4: mean and standard deviation of runs") {
  struct Set {
    double mean, half, mean_error, deviation_error;
    int pairs;
  };
  for (const Set& set : {Set{10000002, 1, 0, 1e-15, 1}, Set{1.2, 0.1, 1e-15, 1e-14, 500},
                         Set{1000000.2, 0.1, 1e-9, 1e-9, 500}, Set{10000000.2, 0.1, 1e-8, 1e-8, 500}}) {
    CAPTURE(set.mean);
    std::vector<double> runs{set.mean};
    for (int i = 0; i < set.pairs; ++i) runs.push_back(set.mean - set.half), runs.push_back(set.mean + set.half);
    const Positioning p = positioning({{0.0, runs, runs}, {0.1, runs, runs}});
    CHECK(std::abs(p.targets[0].mean_up_m - set.mean) <= set.mean_error);
    CHECK(std::abs(p.targets[0].deviation_up_m - set.half) <= set.deviation_error);
  }
}
