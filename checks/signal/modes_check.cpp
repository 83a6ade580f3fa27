// Modes from a measured response against the eigenvalues and eigenvectors of the machine's matrices by numpy. Data
// and how they were made: checks/signal/make_modes_data.py.
#include <doctest/doctest.h>

#include <cmath>

#include "read_rows.h"
#include "signal/modes.h"

using namespace evenbeam;
using math::Complex;

TEST_CASE("modes of an invented two-sided machine: numpy's eigenvalues, and none besides") {
  signal::Response response;
  response.state = signal::ResponseState::done;
  for (const auto& row : checks::read_rows("modes_response.csv")) {
    signal::ResponseCovariance covariance{};
    for (std::size_t i = 0; i < 4; ++i) covariance[5 * i] = row[9] * row[9];
    response.frequency_hz.push_back(row[0]);
    response.g.push_back({{row[1], row[2]}, {row[3], row[4]}, {row[5], row[6]}, {row[7], row[8]}});
    response.covariance.push_back(covariance);
    response.coherence.push_back({0.999, 0.999});
  }
  const auto found = signal::find_modes(response);
  const auto expected = checks::read_rows("modes_true.csv");
  INFO(found.reason);
  REQUIRE(found.done);
  REQUIRE(found.modes.size() == expected.size());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    const auto& mode = found.modes[i];
    INFO("mode at ", expected[i][0], " found ", mode.hz, " damping ", mode.damping_ratio);
    CHECK(std::abs(mode.hz / expected[i][0] - 1) < 0.002);
    CHECK(std::abs(mode.damping_ratio / expected[i][1] - 1) < 0.05);
    CHECK(std::abs(mode.shape_a - Complex(expected[i][2], expected[i][3])) < 0.05);
    CHECK(std::abs(mode.shape_b - Complex(expected[i][4], expected[i][5])) < 0.05);
  }
}
