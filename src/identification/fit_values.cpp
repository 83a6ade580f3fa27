#include "identification/fit_values.h"

#include <cmath>

#include "dynamics/modes.h"
#include "identification/measured_modes.h"

namespace evenbeam::identification {
namespace {

using base::Value;
using math::Estimate;
using Values = FitValues;

void put(Values& values, const std::string& key, const Estimate& e, const std::string& unit) {
  Value v{.value = e.value, .unit = unit, .lower = e.lower, .upper = e.upper};
  values.emplace_back(key, v);
}
void unknown(Values& values, const std::string& key, const std::string& unit) {
  values.emplace_back(key, Value{.unit = unit});
}
// The papers' word is not the machine's: a parameter that the recordings don't tell stays unknown.
void put_if_told(Values& values, const std::string& key, const Estimate& e, const std::string& unit) {
  e.from_data >= kTold ? put(values, key, e, unit) : unknown(values, key, unit);
}

void put_masses(Values& values, const Identified& id) {
  const ForceScale& scale = id.scale;
  const Estimate mass = in_real_newtons(id.motion.mass_kg, scale);
  put_if_told(values, "moving_mass_kg", mass, "kg");
  if (id.grey.done) {
    const Estimate a = in_real_newtons(id.grey.parameters[kGreyMotorA], scale);
    const Estimate b = in_real_newtons(id.grey.parameters[kGreyMotorB], scale);
    const double without = mass.value - a.value - b.value;
    put_if_told(values, "moving_mass_without_motors_kg",
                math::with_sd(without, std::sqrt(mass.sd * mass.sd + a.sd * a.sd + b.sd * b.sd),
                              std::min(a.from_data, b.from_data)),
                "kg");
  } else {
    unknown(values, "moving_mass_without_motors_kg", "kg");
  }
}

void put_yaw(Values& values, const Identified& id) {
  const MotionFit& m = id.motion;
  put_if_told(values, "yaw_inertia_kg_m2", in_real_newtons(m.inertia_kg_m2, id.scale), "kg*m^2");
  put_if_told(values, "yaw_stiffness_n_m_per_rad", in_real_newtons(m.yaw_stiffness_n_m_per_rad, id.scale), "N*m/rad");
  put_if_told(values, "yaw_damping_n_m_s_per_rad", in_real_newtons(m.yaw_damping_n_m_s_per_rad, id.scale),
              "N*m*s/rad");
  if (m.switch_ons.empty())
    unknown(values, "stress_free_skew_m", "m");
  else
    put(values, "stress_free_skew_m", m.switch_ons.front().stress_free_skew_m, "m");
}

void put_drives(Values& values, const Identified& id) {
  const char* keys[] = {"drive_stiffness_a_n_per_m", "drive_stiffness_b_n_per_m", "motor_mass_a_kg",
                        "motor_mass_b_kg"};
  const GreyUnknown unknowns[] = {kGreyStiffnessA, kGreyStiffnessB, kGreyMotorA, kGreyMotorB};
  for (int i = 0; i < 4; ++i) {
    const char* unit = i < 2 ? "N/m" : "kg";
    if (id.grey.done)
      put_if_told(values, keys[i], in_real_newtons(id.grey.parameters[unknowns[i]], id.scale), unit);
    else
      unknown(values, keys[i], unit);
  }
  const Estimate& e = id.motion.force_imbalance;
  const double g = id.scale.common.value;
  if (e.from_data >= kTold) {
    put(values, "force_scale_a", math::with_sd(g * (1 + e.value), std::hypot(g * e.sd, id.scale.common.sd)), "1");
    put(values, "force_scale_b", math::with_sd(g * (1 - e.value), std::hypot(g * e.sd, id.scale.common.sd)), "1");
  } else {
    unknown(values, "force_scale_a", "1");
    unknown(values, "force_scale_b", "1");
  }
}

// The bridge taken off its drives, with carriage, ends and guides: its highest mode.
Estimate bending_with_carriage(const GreyFit& grey) {
  dynamics::Plant bare = grey.plant;
  for (auto* side : {&bare.a, &bare.b})
    side->motor_mass_kg = side->drive_stiffness_n_per_m = side->drive_damping_n_s_per_m = 0;
  const Estimate& alone = grey.parameters[kGreyBendingHz];
  const auto modes = dynamics::modes(bare);
  const double hz = modes.empty() ? alone.value : modes.back().hz;
  return math::with_sd(hz, hz * std::max(0.02, alone.sd / alone.value), alone.from_data);
}

void put_friction_and_time(Values& values, const Identified& id) {
  const MotionFit& m = id.motion;
  put_if_told(values, "coulomb_a_n", in_real_newtons(m.coulomb_a_n, id.scale), "N");
  put_if_told(values, "coulomb_b_n", in_real_newtons(m.coulomb_b_n, id.scale), "N");
  put_if_told(values, "viscous_a_n_s_per_m", in_real_newtons(m.viscous_a_n_s_per_m, id.scale), "N*s/m");
  put_if_told(values, "viscous_b_n_s_per_m", in_real_newtons(m.viscous_b_n_s_per_m, id.scale), "N*s/m");
  if (id.grey.done) {
    put_if_told(values, "delay_s", id.grey.parameters[kGreyDelay], "s");
    put_if_told(values, "current_lag_s", id.grey.parameters[kGreyLag], "s");
  } else {
    unknown(values, "delay_s", "s");
    unknown(values, "current_lag_s", "s");
  }
  put_if_told(values, "total_lag_s", m.lag_s, "s");
  if (id.grey.done && id.grey.bends)
    put_if_told(values, "bending_hz", bending_with_carriage(id.grey), "Hz");
  else
    unknown(values, "bending_hz", "Hz");
  std::vector<double> hz;
  if (id.grey.done)
    for (const MeasuredMode& mode : measured_modes(id.grey, &id.response))
      hz.push_back(mode.read ? mode.hz.value : mode.model.hz);
  values.emplace_back("mode_hz", hz.empty() ? Value{.unit = "Hz"} : Value{.value = hz, .unit = "Hz"});
}

}  // namespace

FitValues fit_values(const Identified& identified) {
  Values out;
  put_masses(out, identified);
  put_yaw(out, identified);
  put_drives(out, identified);
  put_friction_and_time(out, identified);
  return out;
}

}  // namespace evenbeam::identification
