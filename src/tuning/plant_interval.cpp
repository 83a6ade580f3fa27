#include "tuning/plant_interval.h"

#include "base/check.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;

}  // namespace

Part part_of_grey(int grey) {
  using namespace identification;
  switch (grey) {
    case kGreyMotorA:
      return Part::motor_a;
    case kGreyMotorB:
      return Part::motor_b;
    case kGreyStiffnessA:
      return Part::stiffness_a;
    case kGreyStiffnessB:
      return Part::stiffness_b;
    case kGreyDampingA:
      return Part::damping_a;
    case kGreyDampingB:
      return Part::damping_b;
    case kGreyFixedMass:
      return Part::fixed_mass;
    case kGreyFixedMoment:
      return Part::fixed_moment;
    case kGreyFixedInertia:
      return Part::fixed_inertia;
    case kGreyYawStiffness:
      return Part::yaw_stiffness;
    case kGreyYawDamping:
      return Part::yaw_damping;
    case kGreyDelay:
      return Part::delay;
    case kGreyLag:
      return Part::lag;
    case kGreyBendingHz:
      return Part::bending_hz;
    case kGreyBendingDamping:
      return Part::bending_damping;
    case kGreyBendingMass:
      return Part::bending_mass;
    case kGreyBendingEnd:
      return Part::bending_end;
    default:
      break;
  }
  base::check(false, "a grey-box unknown with a part of its own", {double(grey)});
  return Part::fixed_mass;
}

bool is_time_or_shape(Part p) {
  return p == Part::delay || p == Part::lag || p == Part::bending_hz || p == Part::bending_damping ||
         p == Part::bending_end;
}

double& value_of(Plant& p, Part part) {
  switch (part) {
    case Part::motor_a:
      return p.a.motor_mass_kg;
    case Part::motor_b:
      return p.b.motor_mass_kg;
    case Part::stiffness_a:
      return p.a.drive_stiffness_n_per_m;
    case Part::stiffness_b:
      return p.b.drive_stiffness_n_per_m;
    case Part::damping_a:
      return p.a.drive_damping_n_s_per_m;
    case Part::damping_b:
      return p.b.drive_damping_n_s_per_m;
    case Part::viscous_a:
      return p.a.viscous_n_s_per_m;
    case Part::viscous_b:
      return p.b.viscous_n_s_per_m;
    case Part::coulomb_a:
      return p.a.coulomb_n;
    case Part::coulomb_b:
      return p.b.coulomb_n;
    case Part::scale_a:
      return p.a.force_scale;
    case Part::scale_b:
      return p.b.force_scale;
    case Part::fixed_mass:
      return p.fixed_mass_kg;
    case Part::fixed_moment:
      return p.fixed_moment_kg_m;
    case Part::fixed_inertia:
      return p.fixed_inertia_kg_m2;
    case Part::carriage_mass:
      return p.carriage_mass_kg;
    case Part::yaw_stiffness:
      return p.yaw_stiffness_n_m_per_rad;
    case Part::yaw_damping:
      return p.yaw_damping_n_m_s_per_rad;
    case Part::bending_hz:
      return p.bending_hz;
    case Part::bending_damping:
      return p.bending_damping;
    case Part::bending_mass:
      return p.bending_mass_kg;
    case Part::bending_end:
      return p.bending_end_shape;
    case Part::delay:
      return p.delay_s;
    case Part::lag:
      break;
  }
  return p.current_lag_s;
}

std::string name_of(Part part) {
  static const char* const names[] = {"motor mass A",
                                      "motor mass B",
                                      "drive stiffness A",
                                      "drive stiffness B",
                                      "drive damping A",
                                      "drive damping B",
                                      "viscous friction A",
                                      "viscous friction B",
                                      "Coulomb friction A",
                                      "Coulomb friction B",
                                      "force scale A",
                                      "force scale B",
                                      "bridge mass",
                                      "bridge moment",
                                      "bridge inertia",
                                      "carriage mass",
                                      "yaw stiffness",
                                      "yaw damping",
                                      "bending frequency",
                                      "bending damping",
                                      "bending mass",
                                      "bending shape at the ends",
                                      "delay",
                                      "current lag"};
  return names[static_cast<size_t>(part)];
}

}  // namespace evenbeam::tuning
