#include "report/ticks.h"

#include <doctest/doctest.h>

#include <cmath>
#include <random>
#include <set>

#include "base/near_test.h"

using namespace evenbeam::report;

namespace {

// The label read back, times its power, is the tick.
double read(const Tick& tick, int power) {
  std::string text = tick.label;
  const bool negative = text.starts_with("−");
  if (negative) text = text.substr(std::string("−").size());
  return (negative ? -1 : 1) * std::stod(text) * std::pow(10.0, power);
}

}  // namespace

TEST_CASE("linear ticks are round, inside, evenly spaced, differently labelled") {
  std::mt19937 random(3);
  std::uniform_real_distribution<double> centre(-5, 5), size(-9, 9);
  for (int round = 0; round < 3000; ++round) {
    const double span = std::pow(10.0, size(random)), lo = centre(random) * span, hi = lo + span;
    const Ticks t = linear_ticks(lo, hi, 5);
    INFO("seed 3, round " << round << ": " << lo << " to " << hi);
    REQUIRE(t.ticks.size() >= 2);
    CHECK(t.ticks.size() <= 11);
    std::set<std::string> labels;
    const double step = t.ticks[1].at - t.ticks[0].at;
    const double mantissa = step / std::pow(10.0, std::floor(std::log10(step) + 1e-9));
    CHECK((std::abs(mantissa - 1) < 1e-6 || std::abs(mantissa - 2) < 1e-6 || std::abs(mantissa - 5) < 1e-6));
    for (size_t i = 0; i < t.ticks.size(); ++i) {
      CHECK(t.ticks[i].at >= lo - 1e-9 * span);
      CHECK(t.ticks[i].at <= hi + 1e-9 * span);
      CHECK(t.ticks[i].at ==
            evenbeam::base::test::near(t.ticks[0].at + static_cast<double>(i) * step).epsilon(1e-9).scale(span));
      CHECK(std::abs(read(t.ticks[i], t.power) - t.ticks[i].at) < 1e-6 * step);
      CHECK(labels.insert(t.ticks[i].label).second);
    }
  }
}

TEST_CASE("known axes") {
  const auto labels = [](const Ticks& t) {
    std::string out;
    for (const Tick& tick : t.ticks)
      if (!tick.label.empty()) out += tick.label + " ";
    return out;
  };
  CHECK(labels(linear_ticks(0, 4, 8)) == "0.0 0.5 1.0 1.5 2.0 2.5 3.0 3.5 4.0 ");
  CHECK(labels(linear_ticks(-0.3, 0.1, 4)) == "−0.3 −0.2 −0.1 0.0 0.1 ");
  CHECK(labels(log_ticks(2, 400, 7)) == "2 5 10 20 50 100 200 ");
  CHECK(labels(log_ticks(1e-9, 1e-1, 4)) == "10⁻⁸ 10⁻⁶ 10⁻⁴ 0.01 ");
  CHECK(linear_ticks(0, 4e-9, 4).power == -9);
}
