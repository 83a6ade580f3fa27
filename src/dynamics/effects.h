#pragma once
// What the linear plant leaves out, side by side: friction before sliding, ripple, pitch and scale errors, stops,
// cable pull, brakes, the drive's own limit, and how positions are read. Everything is off (0) unless set. Friction
// is LuGre's [Canudas de Wit, Olsson, Astrom, Lischinsky, IEEE TAC 40(3), 1995]:
//   z' = v - sigma0 |v| z/g(v),   g = Fc + (Fs - Fc) exp(-(v/v_s)^2),   F = sigma0 z + sigma1(v) z' + sigma2 v
// with Fc = coulomb_n and sigma2 = viscous of PlantSide; sigma1(v) = sigma1 max(0, 1 - sigma1 |v|/4Fc) so that the
// model takes energy at every speed (docs/equations.md, "friction").
#include "dynamics/plant.h"

namespace evenbeam::dynamics {

struct SideEffects {
  // Friction at the bridge end, besides PlantSide::coulomb_n and viscous.
  double stribeck_n = 0;  // Fs - Fc, >= 0
  double stribeck_speed_m_per_s = 0.01;
  double presliding_m = 1e-5;             // deflection at which Fc is reached, Fc/sigma0; 1 to 50 um (from memory)
  double presliding_damping_ratio = 0.5;  // of sigma1 against half the moving mass on sigma0
  // Coulomb friction rises by spot_n around a place of the end: Fc + spot_n exp(-((x - spot_at)/spot_width)^2).
  double spot_n = 0, spot_at_m = 0, spot_width_m = 0.01;
  // Play between motor and end (elastic drives): inside it the spring gives no force, beyond it k acts on what is
  // beyond. The drive's damping stays.
  double drive_play_m = 0;
  // Real force at the motor, ripple over its own travel: cogging_n sin(2 pi x/pitch + phase).
  double cogging_n = 0, cogging_pitch_m = 0.03, cogging_phase_rad = 0;
  // Feedback reads x (1 + scale_error) + pitch_error sin(2 pi x/pitch + phase), then counts.
  double scale_error = 0;
  double pitch_error_m = 0, pitch_error_pitch_m = 0.02, pitch_error_phase_rad = 0;
  double count_m = 0;              // 0 = not quantised; rounds to nearest
  double noise_m = 0;              // standard deviation, white
  double sampled_late_s = 0;       // after the instant the controller thinks
  double sampled_late_growth = 0;  // s of lateness a second: two clocks drifting apart
  // Pull of cables and hoses at the end: cable_n + cable_n_per_m x, against +x.
  double cable_n = 0, cable_n_per_m = 0;
  // Stops at the end: spring and damper that only push. Off where stiffness is 0.
  double stop_low_m = -1e9, stop_high_m = 1e9, stop_stiffness_n_per_m = 0, stop_damping_n_s_per_m = 0;
  // Brake at the motor: holds up to brake_n, closes and opens late; drags with brake_drag_n where it is open.
  double brake_n = 0, brake_close_s = 0, brake_release_s = 0, brake_drag_n = 0;
  // The drive clips what it is commanded (nameplate newtons); 0 = it does not.
  double peak_force_n = 0;
};

struct Effects {
  SideEffects a, b;
  // Stress-free skew along x: Plant's + slope x_m + wave sin(2 pi x_m/wave_length).
  double stress_free_slope = 0, stress_free_wave_m = 0, stress_free_wave_length_m = 0.1;
  // Play of guides and mountings in yaw, as skew from one side to the other: inside it they give no moment, beyond it
  // K_th acts on what is beyond. Their damping stays.
  double yaw_play_m = 0;
};

std::vector<std::string> effects_troubles(const Effects& effects);

// The bristle numbers of one side, ready for a step.
struct Bristle {
  double coulomb_n = 0, stribeck_n = 0, stribeck_speed_m_per_s = 1;
  double stiffness_n_per_m = 0;  // sigma0; 0 = no friction
  double damping_n_s_per_m = 0;  // sigma1
};
Bristle bristle(const PlantSide& side, const SideEffects& effects, double moving_mass_kg);

}  // namespace evenbeam::dynamics
