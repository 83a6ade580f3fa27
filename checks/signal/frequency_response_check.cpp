// 2x2 frequency response against numpy and scipy. Data and expected numbers: checks/signal/data, made by
// checks/signal/make_response_data.py, which also states the formulas.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "base/near_test.h"
#include "read_rows.h"
#include "signal/frequency_response.h"

using namespace evenbeam;
using checks::read_rows;
using checks::Table;

namespace {

struct Records {
  std::array<std::array<std::vector<double>, 4>, 2> columns;
  std::vector<signal::Experiment> experiments;
};

Records read_records(const std::string& stem) {
  Records records;
  for (std::size_t e = 0; e < 2; ++e)
    for (const auto& row : read_rows(stem + "_" + std::to_string(e + 1) + ".csv"))
      for (std::size_t c = 0; c < 4; ++c) records.columns[e][c].push_back(row[c]);
  for (const auto& c : records.columns) records.experiments.push_back({c[0], c[1], c[2], c[3], {}, {}});
  return records;
}

void compare_response(const Table& expected, const signal::Response& response, double tolerance) {
  INFO(response.reason);
  REQUIRE(response.state == signal::ResponseState::done);
  REQUIRE(response.g.size() == expected.size());
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const auto& row = expected[k];
    const std::array<math::Complex, 4> g = {response.g[k].aa, response.g[k].ab, response.g[k].ba, response.g[k].bb};
    INFO("line ", k);
    CHECK(response.frequency_hz[k] == base::test::near(row[0]).epsilon(1e-12));
    double size = 0;
    for (std::size_t i = 0; i < 4; ++i) size = std::max(size, std::abs(g[i]));
    for (std::size_t i = 0; i < 4; ++i)
      CHECK(std::abs(g[i] - math::Complex(row[1 + 2 * i], row[2 + 2 * i])) < tolerance * size);
  }
}

}  // namespace

TEST_CASE("random forces: G and multiple coherence against scipy.signal.csd") {
  const Records records = read_records("noise");
  signal::ResponseOptions options;
  options.sample_s = 0.01;
  options.segment_s = 1.28;
  const auto response = signal::measure_response(records.experiments, options);
  const Table expected = read_rows("noise_response.csv");
  compare_response(expected, response, 1e-9);
  for (std::size_t k = 0; k < expected.size(); ++k)
    for (std::size_t i = 0; i < 2; ++i) CHECK(std::abs(response.coherence[k][i] - expected[k][9 + i]) < 1e-9);
}

TEST_CASE("multisine: G and its standard deviation against numpy averages of periods") {
  const Records records = read_records("multisine");
  signal::ResponseOptions options;
  options.sample_s = 0.01;
  options.period_s = 0.64;
  options.to_hz = 31.3;
  options.skip_periods = 0;
  options.detrend = signal::Detrend::mean;
  options.excited_ratio = 5;
  const auto response = signal::measure_response(records.experiments, options);
  const Table expected = read_rows("multisine_response.csv");
  compare_response(expected, response, 1e-10);
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const auto sd = signal::standard_deviations(response.covariance[k]);
    for (std::size_t i = 0; i < 4; ++i) CHECK(sd[i] == base::test::near(expected[k][9 + i]).epsilon(1e-9));
  }
}
