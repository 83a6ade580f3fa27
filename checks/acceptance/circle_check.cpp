// Circles of two axes: made-up recordings through the import, against an independent reading in another language
// (make_circle_data.py, data stored beside it). Recognised without a word of recordings.toml.
#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "acceptance/circle_move.h"
#include "recording/import.h"

using namespace evenbeam;
using namespace evenbeam::acceptance;

namespace {

const std::string folder = EVENBEAM_SOURCE_DIR "/checks/acceptance/data/";

std::string text_of(const std::string& path) {
  std::ifstream file(path);
  REQUIRE(file.good());
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

struct Expected {
  double number, radius_m, anticlockwise_m, clockwise_m, bidirectional_m, hysteresis_m, outermost_m, innermost_m;
};

std::vector<Expected> expected_rows() {
  std::stringstream lines(text_of(folder + "gantry_circles.csv"));
  std::string line;
  std::getline(lines, line);
  std::vector<Expected> out;
  while (std::getline(lines, line)) {
    std::replace(line.begin(), line.end(), ',', ' ');
    std::stringstream cells(line);
    Expected e{};
    cells >> e.number >> e.radius_m >> e.anticlockwise_m >> e.clockwise_m >> e.bidirectional_m >> e.hysteresis_m >>
        e.outermost_m >> e.innermost_m;
    REQUIRE(!cells.fail());
    out.push_back(e);
  }
  return out;
}

}  // namespace

TEST_CASE("G, G(b), H and F of four circles agree with numpy and scipy within a nanometre") {
  const std::vector<Expected> rows = expected_rows();
  REQUIRE(rows.size() == 4);
  machine::Machine machine;
  machine.span_m = 2.1;
  for (const Expected& e : rows) {
    const std::string name = "gantry_circle_" + std::to_string(int(e.number)) + ".csv";
    const auto read = recording::import_recording(name, text_of(folder + name), nullptr, machine);
    CAPTURE(name);
    REQUIRE(read.recording.kind == recording::RunKind::circle);
    const CircleMove c = judge_circle(read.recording, machine.span_m);
    REQUIRE(c.worst_anticlockwise);
    REQUIRE(c.worst_clockwise);
    double outermost_m = -1, innermost_m = 1;
    for (const Turn& t : c.turns) {
      outermost_m = std::max(outermost_m, t.outermost_m);
      innermost_m = std::min(innermost_m, t.innermost_m);
    }
    const double near_m = 1e-9;
    CHECK(std::abs(c.radius_m - e.radius_m) < near_m);
    CHECK(std::abs(c.turns[*c.worst_anticlockwise].deviation_m - e.anticlockwise_m) < near_m);
    CHECK(std::abs(c.turns[*c.worst_clockwise].deviation_m - e.clockwise_m) < near_m);
    CHECK(std::abs(*c.bidirectional_m - e.bidirectional_m) < near_m);
    CHECK(std::abs(*c.hysteresis_m - e.hysteresis_m) < near_m);
    CHECK(std::abs(outermost_m - e.outermost_m) < near_m);
    CHECK(std::abs(innermost_m - e.innermost_m) < near_m);
  }
}
