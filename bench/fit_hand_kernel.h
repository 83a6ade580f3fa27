#pragma once
// The fastest way known here to one fit of bench/fit_bench.cpp, for comparison only: Levenberg-Marquardt written by
// hand for a rigid bridge on two elastic drives with lag and delay, 14 parameters, 2x2 response, fixed sizes, the
// normal equations summed line by line. dG = -W' dZ X with the motions of each line, as
// src/identification/grey_response.cpp has it.
#include <array>
#include <complex>
#include <vector>

namespace evenbeam::bench {

inline constexpr int hand_parameters = 14;
// Force imbalance; logarithms of motor masses A, B, drive stiffness A, B, drive damping A, B, bridge mass; moment;
// logarithms of yaw inertia, yaw stiffness, yaw damping, delay, current lag.
using HandVector = std::array<double, hand_parameters>;

struct HandLine {
  double w = 0;  // rad/s
  std::array<std::complex<double>, 4> g;
  std::array<double, 4> by{};  // 1/sigma
};
// What is not fitted.
struct HandFixed {
  double half_span_m = 0, carriage_kg = 0, carriage_y_m = 0, viscous_a = 0, viscous_b = 0;
};
struct HandFit {
  HandVector x{};
  double half_squares = 0;
  int iterations = 0;
};
HandFit hand_fit(const std::vector<HandLine>& lines, const HandFixed& fixed, const HandVector& start);

}  // namespace evenbeam::bench
