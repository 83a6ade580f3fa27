#include "homing/marks_drift.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <string>

#include "base/near_test.h"
#include "math/student.h"

namespace evenbeam::homing {
namespace {

struct Day {
  std::vector<SearchRun> runs;
  std::vector<recording::Recording> recordings;
};

// Searches at the temperatures given, b - a moving by `per_k`, scattering by `scatter_m`.
template <class Draw>
Day searched(const std::vector<double>& kelvin, double per_k, double scatter_m, Draw& draw) {
  std::normal_distribution<double> normal(0, 1);
  Day day;
  for (std::size_t i = 0; i < kelvin.size(); ++i) {
    const std::string name = "search-" + std::to_string(i) + ".csv";
    SearchRun run{.name = name, .both_seen = true};
    run.b_minus_a_m = math::with_sd(1.2e-3 + per_k * (kelvin[i] - 293) + scatter_m * normal(draw), 0.1e-6);
    day.runs.push_back(run);
    recording::Recording r{.name = name, .kind = recording::RunKind::search};
    r.temperature_k = kelvin[i];
    day.recordings.push_back(r);
  }
  return day;
}

const std::vector<double> cold_and_warm{293, 293.2, 293.1, 293, 293.3, 303, 303.4, 303.1, 303.2, 303};

}  // namespace

TEST_CASE("the drift a kelvin is found, and when to search again follows from the band") {
  std::mt19937_64 draw(1);
  const Day day = searched(cold_and_warm, 4e-6, 0, draw);
  const MarksDrift d = marks_drift(day.runs, day.recordings);
  REQUIRE(d.known);
  CHECK(d.per_k.value == base::test::near(4e-6).epsilon(1e-6));
  // sd: 0.1 um over sqrt(sum of squared distances) = 0.1/sqrt(10 * 5.0^2) = 6.3e-9 m/K
  CHECK(d.per_k.sd == base::test::near(6.3e-9).epsilon(0.05));
  const SearchAgain again = search_again(d, 20e-6);
  CHECK(*again.likely_k == base::test::near(5).epsilon(1e-6));
  CHECK(again.after_k < 5);
  CHECK(again.after_k > 4.95);
  const auto f = drift_finding(d, 20e-6, "wanted");
  CHECK(f->verdict == base::Verdict::attention);  // 10 K were seen, 5 are taken
  CHECK(f->next.find("search again") != std::string::npos);
  CHECK(drift_finding(d, 200e-6, "wanted")->verdict == base::Verdict::pass);
  CHECK(search_again(d, 200e-6).within_seen);
  CHECK(search_again(d, 200e-6).after_k == base::test::near(10.4));  // not the 50 K of a straight line
}

TEST_CASE("stated intervals hold the true drift in about 95 of 100 days") {
  std::mt19937_64 draw(7);
  int held = 0, safe = 0;
  constexpr int days = 1000;
  for (int i = 0; i < days; ++i) {
    const Day day = searched(cold_and_warm, 2e-6, 6e-6, draw);
    const MarksDrift d = marks_drift(day.runs, day.recordings);
    held += d.per_k.lower <= 2e-6 && 2e-6 <= d.per_k.upper;
    safe += search_again(d, 16e-6).after_k <= 8;  // 16 um at 2 um a kelvin
  }
  CAPTURE(held);
  CHECK(held >= 930);
  CHECK(held <= 970);
  CHECK(safe >= 950);
}

TEST_CASE("too few, too close or without a temperature: said, not guessed") {
  std::mt19937_64 draw(2);
  const Day close = searched({293, 293.5, 294}, 4e-6, 0, draw);
  CHECK_FALSE(marks_drift(close.runs, close.recordings).known);
  CHECK(drift_finding(marks_drift(close.runs, close.recordings), 1e-5, "x")->verdict == base::Verdict::not_done);
  Day silent = searched(cold_and_warm, 4e-6, 0, draw);
  for (auto& r : silent.recordings) r.temperature_k.reset();
  CHECK_FALSE(drift_finding(marks_drift(silent.runs, silent.recordings), 1e-5, "x"));
  Day odd = searched(cold_and_warm, 4e-6, 0, draw);
  odd.runs[9].b_minus_a_m->value += 20e-3;  // a pitch
  odd.runs[9].left_out = true;
  CHECK(marks_drift(odd.runs, odd.recordings).per_k.value == base::test::near(4e-6).epsilon(1e-6));
}

}  // namespace evenbeam::homing
