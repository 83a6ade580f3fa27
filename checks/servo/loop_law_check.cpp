// The loop law against input and output vectors of three cases.
// Source: a second implementation of the law's text, written apart from this program; numbers only. The files hold
// the first 500, 600 and 2100 samples (the clipped case leaves and meets its clip six times in them). Wanted: the
// same forces to 1e-9 of the peak force. EVENBEAM_LOOP_LAW_VECTORS = a folder with plain.csv, filters.csv and
// clipped.csv runs them whole (3000, 2500 and 4000 samples).
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <numbers>
#include <string>
#include <vector>

#include "servo/loop_law.h"
#include "vector_settings.h"

using namespace evenbeam;

namespace {

std::vector<std::vector<double>> rows(const std::string& name) {
  const char* whole = std::getenv("EVENBEAM_LOOP_LAW_VECTORS");
  std::ifstream file(whole != nullptr
                         ? std::string(whole) + "/" + name + ".csv"
                         : std::string(EVENBEAM_SOURCE_DIR) + "/checks/servo/data/loop_law_" + name + ".csv");
  REQUIRE(file);
  std::vector<std::vector<double>> out;
  std::string line;
  std::getline(file, line);
  REQUIRE(line ==
          "mean_ref_m,skew_ref_m,mean_ref_v,mean_ref_a,skew_ref_v,skew_ref_a,pos_a_m,pos_b_m,force_a_n,force_b_n");
  while (std::getline(file, line)) {
    std::vector<double> row;
    for (const char* at = line.c_str(); *at;) {
      char* end = nullptr;
      row.push_back(std::strtod(at, &end));
      at = *end == ',' ? end + 1 : end;
    }
    REQUIRE(row.size() == 10);
    out.push_back(row);
  }
  return out;
}

// Largest difference of either force as a part of the peak force.
double worst(const machine::Settings& s, const std::string& name, size_t expected_rows, int& clipped) {
  const auto table = rows(name);
  REQUIRE(table.size() >= expected_rows);
  const auto law = servo::prepare(s);
  auto state = servo::fresh_state();
  double difference = 0;
  for (const auto& r : table) {
    const auto f = servo::step(law, state, {r[0], r[2], r[3], r[1], r[4], r[5]}, r[6], r[7]);
    difference = std::max({difference, std::abs(f.a_n - r[8]), std::abs(f.b_n - r[9])});
    clipped += f.clip_a != 0 || f.clip_b != 0;
  }
  MESSAGE(name, ", ", table.size(), " samples: largest difference ", difference / s.peak_force_a_n, " of peak force");
  return difference / s.peak_force_a_n;
}

}  // namespace

TEST_CASE("loop law vectors: plain") {
  int clipped = 0;
  CHECK(worst(checks::vector_settings(1e-4, 2600), "plain", 500, clipped) < 1e-9);
  CHECK(clipped == 0);
}

TEST_CASE("loop law vectors: filters") {
  auto s = checks::vector_settings(2.5e-4, 2600);
  s.mean.filters = {{57, 0.05, 0.5}, {226, 0.1, 0.7}};
  s.skew.filters = {{158, 0.02, 0.4}};
  int clipped = 0;
  CHECK(worst(s, "filters", 600, clipped) < 1e-9);
  CHECK(clipped == 0);
}

TEST_CASE("loop law vectors: clipped") {
  int clipped = 0;
  CHECK(worst(checks::vector_settings(1e-4, 900), "clipped", 2100, clipped) < 1e-9);
  CHECK(clipped > 1000);
}

// Rows of an independent library's notch design, whose width f0/Q is exact in the sampled filter: the sampled
// half-power width of ours is set by 2 zd t/(1 + t^2) = zd sin(w0 T) = tan(w0 T/(2 Q)), so zd follows from Q (derived
// here).
TEST_CASE("notches: 200 Hz, 60 Hz, Q 30 and 8 kHz, 120 Hz, Q 5") {
  const auto near = [](double value, double expected) { CHECK(std::abs(value - expected) < 1e-7); };
  const auto notch = [](double hz, double quality, double rate_hz) {
    const double angle = 2 * std::numbers::pi * hz / rate_hz;
    return servo::bilinear({hz, 0, std::tan(angle / (2 * quality)) / std::sin(angle)}, 1 / rate_hz);
  };
  const auto one = notch(60, 30, 200);
  near(one.b0, 0.96953125), near(one.b1, 0.59920327), near(one.b2, 0.96953125);
  near(one.a1, 0.59920327), near(one.a2, 0.93906251);
  const auto two = notch(120, 5, 8000);
  near(two.b0, 0.99066295), near(two.b1, -1.9725327), near(two.b2, 0.99066295);
  near(two.a1, -1.9725327), near(two.a2, 0.98132589);
}
