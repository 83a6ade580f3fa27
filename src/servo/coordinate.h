#pragma once
// One coordinate of the neutral loop law (docs/loop-law.md, steps 1 to 4): from reference and position to a force.
//   v = low-pass(backward difference of q),  w = Kp (r - q) + r' - v,  I += w T/Ti unless held,
//   u = biquads(Kv (w + I))
// Assumes a uniform period and positions sampled at the instant of the call. No allocation in a step.
#include <array>
#include <string>
#include <vector>

#include "base/input_error.h"
#include "machine/settings.h"

namespace evenbeam::servo {

inline constexpr int most_filters = 8;  // of one coordinate; more is refused by prepare

// y = b0 u + s1;  s1' = b1 u - a1 y + s2;  s2' = b2 u - a2 y  (direct form II transposed)
struct BiquadLaw {
  double b0 = 1, b1 = 0, b2 = 0, a1 = 0, a2 = 0;
};

struct CoordinateLaw {
  double period_s = 0;
  double position_gain_per_s = 0;
  double velocity_gain = 0;      // Kv, N s/m
  double integral_factor = 0;    // T/Ti; 0 = no integral
  double difference_factor = 0;  // 1/T
  double filter_factor = 1;      // 1 - exp(-2 pi f_v T); 1 = no filter
  int filter_count = 0;
  std::array<BiquadLaw, most_filters> filters{};
};

struct CoordinateState {
  bool started = false;
  double position_m = 0;        // q of the step before
  double velocity_m_per_s = 0;  // filtered
  double integral_m_per_s = 0;  // I
  std::array<double, most_filters> s1{}, s2{};
};

// The bilinear transform with s = w0/tan(w0 T/2) (z - 1)/(z + 1).
BiquadLaw bilinear(const machine::Biquad& filter, double period_s);

CoordinateLaw prepare(const machine::CoordinateLoop& loop, double period_s);
// Rules of one coordinate: appends what it finds. `name` is "mean" or "skew".
void check_coordinate(const machine::CoordinateLoop& loop, double period_s, const std::string& name,
                      std::vector<base::Trouble>& troubles);

// `clip_up`: a positive w would push a clipped side further; `clip_down`: a negative one would. Either holds I.
double step(const CoordinateLaw& law, CoordinateState& state, double reference_m, double reference_m_per_s,
            double position_m, bool clip_up, bool clip_down);

}  // namespace evenbeam::servo
