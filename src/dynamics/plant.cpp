#include "dynamics/plant.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::dynamics {

double total_mass_kg(const Plant& p) {
  return p.fixed_mass_kg + p.carriage_mass_kg + p.payload_kg + p.a.motor_mass_kg + p.b.motor_mass_kg;
}

double first_moment_kg_m(const Plant& p) {
  return p.fixed_moment_kg_m + (p.carriage_mass_kg + p.payload_kg) * p.carriage_y_m +
         (p.b.motor_mass_kg - p.a.motor_mass_kg) * p.span_m / 2;
}

double yaw_inertia_kg_m2(const Plant& p) {
  const double arm2 = p.carriage_y_m * p.carriage_y_m + p.carriage_ahead_m * p.carriage_ahead_m;
  return p.fixed_inertia_kg_m2 + (p.carriage_mass_kg + p.payload_kg) * arm2 +
         (p.a.motor_mass_kg + p.b.motor_mass_kg) * p.span_m * p.span_m / 4;
}

double balanced_share(const Plant& p) { return 0.5 - first_moment_kg_m(p) / (total_mass_kg(p) * p.span_m); }

double balanced_commanded_share(const Plant& p) {
  const double of_a = balanced_share(p) / p.a.force_scale, of_b = (1 - balanced_share(p)) / p.b.force_scale;
  return of_a / (of_a + of_b);
}

std::vector<std::string> plant_troubles(const Plant& p) {
  std::vector<std::string> troubles;
  const auto want = [&](bool ok, const char* field, double value, const char* rule) {
    if (!ok || !std::isfinite(value)) troubles.push_back(fmt::format("{} = {}; expected {}", field, value, rule));
  };
  const auto want_positive = [&](const char* field, double value) { want(value > 0, field, value, "> 0"); };
  const auto want_zero_or_more = [&](const char* field, double value) { want(value >= 0, field, value, ">= 0"); };
  want_positive("span_m", p.span_m);
  want_zero_or_more("fixed_mass_kg", p.fixed_mass_kg);
  want_zero_or_more("fixed_inertia_kg_m2", p.fixed_inertia_kg_m2);
  want(true, "fixed_moment_kg_m", p.fixed_moment_kg_m, "finite");
  want_zero_or_more("carriage_mass_kg", p.carriage_mass_kg);
  want_zero_or_more("payload_kg", p.payload_kg);
  want(true, "carriage_y_m", p.carriage_y_m, "finite");
  want(true, "carriage_ahead_m", p.carriage_ahead_m, "finite");
  want_zero_or_more("yaw_stiffness_n_m_per_rad", p.yaw_stiffness_n_m_per_rad);
  want_zero_or_more("yaw_damping_n_m_s_per_rad", p.yaw_damping_n_m_s_per_rad);
  want(true, "stress_free_skew_m", p.stress_free_skew_m, "finite");
  want_zero_or_more("bending_hz", p.bending_hz);
  want_zero_or_more("bending_damping", p.bending_damping);
  if (p.bending_hz > 0) want_positive("bending_mass_kg", p.bending_mass_kg);
  want(p.bending_end_shape >= -1.6453 && p.bending_end_shape < 0, "bending_end_shape", p.bending_end_shape,
       "-1.6453 (free beam) to below 0 (heavy ends)");
  want_zero_or_more("carriage_stiffness_n_per_m", p.carriage_stiffness_n_per_m);
  want_zero_or_more("carriage_damping_n_s_per_m", p.carriage_damping_n_s_per_m);
  want_zero_or_more("delay_s", p.delay_s);
  want_zero_or_more("current_lag_s", p.current_lag_s);
  for (const auto& [side, name] : {std::pair{&p.a, "a"}, std::pair{&p.b, "b"}}) {
    const auto field = [&, side_name = name](const char* what) { return fmt::format("{}.{}", side_name, what); };
    want_zero_or_more(field("motor_mass_kg").c_str(), side->motor_mass_kg);
    want_zero_or_more(field("drive_stiffness_n_per_m").c_str(), side->drive_stiffness_n_per_m);
    want_zero_or_more(field("drive_damping_n_s_per_m").c_str(), side->drive_damping_n_s_per_m);
    want_zero_or_more(field("coulomb_n").c_str(), side->coulomb_n);
    want_zero_or_more(field("viscous_n_s_per_m").c_str(), side->viscous_n_s_per_m);
    want_positive(field("force_scale").c_str(), side->force_scale);
    if (side->drive_stiffness_n_per_m > 0) want_positive(field("motor_mass_kg").c_str(), side->motor_mass_kg);
  }
  const double mass = total_mass_kg(p), moment = first_moment_kg_m(p), inertia = yaw_inertia_kg_m2(p);
  want_positive("total mass", mass);
  if (mass > 0)
    want(inertia - moment * moment / mass > 0, "yaw inertia about the centre of mass",
         inertia - moment * moment / mass, "> 0 (fixed_inertia too small for fixed_moment)");
  const double fixed_own = p.fixed_inertia_kg_m2 * p.fixed_mass_kg - p.fixed_moment_kg_m * p.fixed_moment_kg_m;
  want(fixed_own >= 0, "fixed_inertia * fixed_mass - fixed_moment^2", fixed_own, ">= 0");
  return troubles;
}

void bound_moment(Plant& p) {
  const double most = std::sqrt(0.999 * std::max(0.0, p.fixed_inertia_kg_m2 * p.fixed_mass_kg));
  p.fixed_moment_kg_m = std::clamp(p.fixed_moment_kg_m, -most, most);
}

}  // namespace evenbeam::dynamics
