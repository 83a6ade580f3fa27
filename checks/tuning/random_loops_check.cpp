// Forty random loops and forty random 2x2 matrices: gain, phase, distance and disk margins from the roots of real
// polynomials, structured values from a search over scalings; numpy 1.24 and scipy 1.10 (make_random_loops.py made
// the data, which are kept).
#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <sstream>
#include <string>

#include "math/loop_margins.h"

namespace evenbeam::tuning {
namespace {

using math::Complex;

bool near(double a, double b, double relative) {
  return std::isinf(b) ? std::isinf(a) : std::abs(a - b) <= relative * std::abs(b);
}

}  // namespace

TEST_CASE("random loops and matrices against numpy and scipy") {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/checks/tuning/data/random_loops.csv");
  int loops = 0, matrices = 0;
  for (std::string line; std::getline(file, line);) {
    std::stringstream text(line.substr(2));
    std::vector<double> x;
    for (std::string cell; std::getline(text, cell, ',');) x.push_back(std::stod(cell));
    CAPTURE(line);
    if (line[0] == 'm') {
      REQUIRE(x.size() == 9);
      const math::Complex2x2 m{{x[0], x[1]}, {x[2], x[3]}, {x[4], x[5]}, {x[6], x[7]}};
      CHECK(near(math::structured_value(m), x[8], 1e-7));
      ++matrices;
      continue;
    }
    REQUIRE(x.size() == 10);
    std::vector<double> w;
    std::vector<Complex> l;
    for (double f = 1e-3; f < 1e3; f *= 1.002) {
      const Complex s(0, f);
      w.push_back(f);
      l.push_back((x[0] * s + x[1]) / (((x[2] * s + x[3]) * s + x[4]) * s + x[5]));
    }
    const math::LoopMargins m = math::loop_margins(w, l);
    CHECK(near(m.gain_up, x[6], 1e-4));
    CHECK(near(m.phase_rad, x[7], 1e-4));
    CHECK(near(m.distance, x[8], 1e-4));
    CHECK(near(m.disk, x[9], 1e-4));
    ++loops;
  }
  CHECK(loops == 40);
  CHECK(matrices == 40);
}

}  // namespace evenbeam::tuning
