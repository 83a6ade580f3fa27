#pragma once
// The plant's numbers that a fit may doubt, by name (tuning/joint_doubt.h says how far each).
// The common scale of force is none of them: the loops command nameplate newtons, and a plant whose masses,
// stiffnesses and force scales all grow by one factor answers them in the same way.
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "identification/identify.h"
#include "math/random.h"

namespace evenbeam::tuning {

enum class Part {
  motor_a,
  motor_b,
  stiffness_a,
  stiffness_b,
  damping_a,
  damping_b,
  viscous_a,
  viscous_b,
  coulomb_a,
  coulomb_b,
  scale_a,
  scale_b,
  fixed_mass,
  fixed_moment,
  fixed_inertia,
  carriage_mass,
  yaw_stiffness,
  yaw_damping,
  bending_hz,
  bending_damping,
  bending_mass,
  bending_end,
  delay,
  lag
};
double& value_of(dynamics::Plant& plant, Part part);
std::string name_of(Part part);
Part part_of_grey(int unknown);    // of identification::GreyUnknown, all but the imbalance
bool is_time_or_shape(Part part);  // does not grow with the common scale of force

}  // namespace evenbeam::tuning
