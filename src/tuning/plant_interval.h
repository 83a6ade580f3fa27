#pragma once
// What the fit doesn't know: each uncertain number of the plant with its 95 % interval, in the units of the plant.
// The common scale of force is left out: the loops command nameplate newtons, and a plant whose masses, stiffnesses
// and force scales all grow by one factor answers them in the same way.
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

struct UncertainPart {
  Part part = Part::fixed_mass;
  double value = 0, sd = 0;
  double low = 0, high = 0;  // 95 %, inside what is physically possible
};
std::vector<UncertainPart> uncertain_parts(const identification::Identified& identified);

// Normal, cut at what is physically possible; both force scales move against each other, as their fit does.
dynamics::Plant drawn_plant(const dynamics::Plant& plant, const std::vector<UncertainPart>& parts,
                            math::Random& random);
// Evenly over the intervals shrunk to `width` (0..1) about the fitted values, each part on its own.
dynamics::Plant spread_plant(const dynamics::Plant& plant, const std::vector<UncertainPart>& parts, double width,
                             math::Random& random);

}  // namespace evenbeam::tuning
