#pragma once
// A recording as the criteria of one capture read it: speed, acceleration and forces of the same short window.
//   acceleration = (x(t+h) - 2 x(t) + x(t-h))/h^2, which is the true one averaged under the triangle of half width h;
//   forces and skew are averaged under that same triangle, so that the motion law holds between them
//   speed = (x(t+h) - x(t-h))/(2 h); x the mean of both sides, s = x_A - x_B likewise
// Derived here: integrate x'' twice by parts. h = 10 ms; what is faster than some 30 Hz is averaged away.
#include <vector>

#include "recording/recording.h"

namespace evenbeam::diagnosis {

struct SmoothSample {
  double time_s = 0, place_m = 0, speed_m_per_s = 0, acceleration_m_per_s2 = 0;
  double skew_m = 0, skew_rate_m_per_s = 0, skew_acceleration_m_per_s2 = 0;
  double force_a_n = 0, force_b_n = 0;
  double fight_n() const { return (force_a_n - force_b_n) / 2; }
};

// At most about `most` of them, evenly spaced; those beside missing samples are left out. Empty without positions or
// forces of both sides.
std::vector<SmoothSample> smooth_samples(const recording::Recording& recording, std::size_t most = 4000);

// Largest |speed| among them; 0 for none.
double top_speed(const std::vector<SmoothSample>& samples);
// Those faster than a twentieth of it: in motion, where the direction of friction is known.
std::vector<SmoothSample> moving(const std::vector<SmoothSample>& samples);

}  // namespace evenbeam::diagnosis
