#include "dynamics/effects.h"

#include <fmt/format.h>

#include <cmath>

namespace evenbeam::dynamics {

std::vector<std::string> effects_troubles(const Effects& effects) {
  std::vector<std::string> troubles;
  const auto check_side = [&](const SideEffects& e, const char* name) {
    const auto want = [&](bool ok, const char* field, double value, const char* rule) {
      if (!ok || !std::isfinite(value))
        troubles.push_back(fmt::format("{}.{} = {}; expected {}", name, field, value, rule));
    };
    want(e.stribeck_n >= 0, "stribeck_n", e.stribeck_n, ">= 0");
    want(e.stribeck_speed_m_per_s > 0, "stribeck_speed_m_per_s", e.stribeck_speed_m_per_s, "> 0");
    want(e.presliding_m > 0, "presliding_m", e.presliding_m, "> 0");
    want(e.presliding_damping_ratio >= 0, "presliding_damping_ratio", e.presliding_damping_ratio, ">= 0");
    want(e.spot_n >= 0 && std::isfinite(e.spot_at_m), "spot_n", e.spot_n, ">= 0, at a finite place");
    want(e.spot_width_m > 0, "spot_width_m", e.spot_width_m, "> 0");
    want(e.drive_play_m >= 0, "drive_play_m", e.drive_play_m, ">= 0");
    want(e.cogging_pitch_m > 0, "cogging_pitch_m", e.cogging_pitch_m, "> 0");
    want(e.pitch_error_pitch_m > 0, "pitch_error_pitch_m", e.pitch_error_pitch_m, "> 0");
    want(e.count_m >= 0, "count_m", e.count_m, ">= 0");
    want(e.noise_m >= 0, "noise_m", e.noise_m, ">= 0");
    want(true, "sampled_late_s", e.sampled_late_s + e.sampled_late_growth, "finite");
    want(std::abs(e.scale_error) < 0.5, "scale_error", e.scale_error, "well below 1");
    want(e.stop_stiffness_n_per_m >= 0, "stop_stiffness_n_per_m", e.stop_stiffness_n_per_m, ">= 0");
    want(e.stop_damping_n_s_per_m >= 0, "stop_damping_n_s_per_m", e.stop_damping_n_s_per_m, ">= 0");
    want(e.stop_high_m > e.stop_low_m, "stop_high_m", e.stop_high_m, "above stop_low_m");
    want(e.brake_n >= 0 && e.brake_close_s >= 0 && e.brake_release_s >= 0 && e.brake_drag_n >= 0, "brake", e.brake_n,
         "forces and times >= 0");
    want(e.peak_force_n >= 0, "peak_force_n", e.peak_force_n, ">= 0");
    want(true, "cable_n", e.cable_n + e.cable_n_per_m + e.cogging_n, "finite");
  };
  check_side(effects.a, "effects.a");
  check_side(effects.b, "effects.b");
  if (!(effects.stress_free_wave_length_m > 0)) troubles.push_back("stress_free_wave_length_m: expected > 0");
  if (!(effects.yaw_play_m >= 0) || !std::isfinite(effects.yaw_play_m))
    troubles.push_back(fmt::format("yaw_play_m = {}; expected >= 0", effects.yaw_play_m));
  return troubles;
}

Bristle bristle(const PlantSide& side, const SideEffects& e, double moving_mass_kg) {
  Bristle b;
  b.coulomb_n = side.coulomb_n;
  b.stribeck_n = e.stribeck_n;
  b.stribeck_speed_m_per_s = e.stribeck_speed_m_per_s;
  if (side.coulomb_n > 0) {
    b.stiffness_n_per_m = side.coulomb_n / e.presliding_m;
    b.damping_n_s_per_m = 2 * e.presliding_damping_ratio * std::sqrt(b.stiffness_n_per_m * moving_mass_kg / 2);
  }
  return b;
}

}  // namespace evenbeam::dynamics
