#pragma once
// Motion and force of one recording as seen through one and the same symmetric (zero-phase) Gaussian window, at
// points a fraction of the window apart:
//   y_k = sum_i g(t_k - t_i) y(t_i),   d^n x / dt^n at t_k = sum_i g^(n)(t_k - t_i) x(t_i).
// Because force, friction direction and every derivative pass the same window, a linear law between them in
// continuous time stays exact after it. The window's gain is -3 dB at `bandwidth_hz` (sigma_t = sqrt(ln 2)/(2 pi
// bandwidth)).
#include <array>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::identification {

struct LocalMotion {
  std::vector<double> time_s;
  // [n]: n-th time derivative of position, m/s^n, n = 0..4
  std::array<std::vector<double>, 5> a, b;
  std::vector<double> force_a_n, force_b_n;      // commanded newtons
  std::vector<double> direction_a, direction_b;  // smoothed sign of velocity, -1..1
};

struct LocalMotionOptions {
  double bandwidth_hz = 15;
  double points_per_window = 4;           // points a 1/bandwidth
  double direction_width_m_per_s = 2e-3;  // tanh(v/width): where the friction direction changes over
};

// Needs positions and forces. Points whose window meets a missing sample or the file's ends are left out.
LocalMotion local_motion(const recording::Recording& recording, const LocalMotionOptions& options);

}  // namespace evenbeam::identification
