#pragma once
// Settings of the neutral loop law (docs/loop-law.md), per coordinate mean and skew. What is tuned, simulated,
// exported, and what a recording says it was made with. Forces in commanded (nameplate) newtons.
#include <vector>

namespace evenbeam::machine {

// (s^2 + 2 zn w0 s + w0^2) / (s^2 + 2 zd w0 s + w0^2), bilinear, pre-warped at its own w0.
struct Biquad {
  double hz = 0, zn = 0, zd = 0;
};

struct CoordinateLoop {
  double position_gain_per_s = 0;
  double velocity_gain_n_s_per_m =
      0;                           // mean: sum of both forces; skew: added to A, taken from B, per m/s of x_A - x_B
  double velocity_integral_s = 0;  // Ti of the velocity loop; 0 = no integral
  double velocity_filter_hz = 0;   // first-order on the differentiated position; 0 = none
  std::vector<Biquad> filters;
};

// One place of a share that follows the carriage.
struct ShareAt {
  double y_m = 0, share = 0.5;
};

struct Settings {
  double period_s = 0;
  double share = 0.5;  // sigma, the part of the mean force that A gives
  double mass_ff_kg = 0, skew_ff_kg = 0;
  double coulomb_ff_a_n = 0, coulomb_ff_b_n = 0;
  double coulomb_ramp_m_per_s = 0.001;  // v_0, friction feed-forward is v/v_0 inside it
  double viscous_ff_a_n_s_per_m = 0, viscous_ff_b_n_s_per_m = 0;
  double offset_a_n = 0, offset_b_n = 0;
  double peak_force_a_n = 0, peak_force_b_n = 0;
  CoordinateLoop mean, skew;
  // For controllers that can follow the carriage: straight between places of rising y, held beyond the ends. Empty:
  // `share` everywhere. The law itself runs with `share`; who follows the carriage sets it (share_with_carriage_at).
  std::vector<ShareAt> share_along;
};

double share_with_carriage_at(const Settings& settings, double carriage_y_m);

}  // namespace evenbeam::machine
