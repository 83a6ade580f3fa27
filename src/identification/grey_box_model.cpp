#include "identification/grey_box_model.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {
namespace {

bool by_logarithm(int j) { return j != kGreyImbalance && j != kGreyFixedMoment && j != kGreyBendingEnd; }

double& place(dynamics::Plant& p, int j, double& spare) {
  switch (j) {
    case kGreyMotorA:
      return p.a.motor_mass_kg;
    case kGreyMotorB:
      return p.b.motor_mass_kg;
    case kGreyStiffnessA:
      return p.a.drive_stiffness_n_per_m;
    case kGreyStiffnessB:
      return p.b.drive_stiffness_n_per_m;
    case kGreyDampingA:
      return p.a.drive_damping_n_s_per_m;
    case kGreyDampingB:
      return p.b.drive_damping_n_s_per_m;
    case kGreyFixedMass:
      return p.fixed_mass_kg;
    case kGreyFixedMoment:
      return p.fixed_moment_kg_m;
    case kGreyFixedInertia:
      return p.fixed_inertia_kg_m2;
    case kGreyYawStiffness:
      return p.yaw_stiffness_n_m_per_rad;
    case kGreyYawDamping:
      return p.yaw_damping_n_m_s_per_rad;
    case kGreyDelay:
      return p.delay_s;
    case kGreyLag:
      return p.current_lag_s;
    case kGreyBendingHz:
      return p.bending_hz;
    case kGreyBendingDamping:
      return p.bending_damping;
    case kGreyBendingMass:
      return p.bending_mass_kg;
    case kGreyBendingEnd:
      return p.bending_end_shape;
    default:
      return spare;
  }
}

}  // namespace

std::string grey_name(int j) {
  static const std::array<const char*, kGreyCount> names{"force imbalance",
                                                         "motor mass A",
                                                         "motor mass B",
                                                         "drive stiffness A",
                                                         "drive stiffness B",
                                                         "drive damping A",
                                                         "drive damping B",
                                                         "bridge mass",
                                                         "bridge moment",
                                                         "bridge yaw inertia",
                                                         "yaw stiffness",
                                                         "yaw damping",
                                                         "delay",
                                                         "current lag",
                                                         "bending frequency",
                                                         "bending damping",
                                                         "bending modal mass",
                                                         "bending end shape"};
  return names[static_cast<size_t>(j)];
}

double grey_value(int j, double parameter) {
  if (j == kGreyBendingEnd) return kHeavyEnds + (kFreeBeam - kHeavyEnds) / (1 + std::exp(-parameter));
  return by_logarithm(j) ? std::exp(parameter) : parameter;
}

double grey_slope(int j, double parameter) {
  if (j != kGreyBendingEnd) return by_logarithm(j) ? std::exp(parameter) : 1;
  const double part = 1 / (1 + std::exp(-parameter));
  return (kFreeBeam - kHeavyEnds) * part * (1 - part);
}

double grey_parameter(int j, double value) {
  if (j != kGreyBendingEnd) return by_logarithm(j) ? std::log(std::max(value, 1e-12)) : value;
  const double part = std::clamp((value - kHeavyEnds) / (kFreeBeam - kHeavyEnds), 1e-3, 0.999);
  return std::log(part / (1 - part));
}

Eigen::VectorXd grey_parameters(const dynamics::Plant& plant) {
  Eigen::VectorXd out(static_cast<int>(kGreyCount));
  dynamics::Plant copy = plant;
  double imbalance = (plant.a.force_scale - plant.b.force_scale) / 2;
  for (int j = 0; j < kGreyCount; ++j) {
    out[j] = grey_parameter(j, place(copy, j, imbalance));
  }
  return out;
}

dynamics::Plant grey_plant(const dynamics::Plant& base, const Eigen::VectorXd& parameters) {
  dynamics::Plant out = base;
  double imbalance = 0;
  for (int j = 0; j < kGreyCount; ++j) {
    const bool bends = base.bending_hz > 0 || j < kGreyBendingHz;
    if (bends) place(out, j, imbalance) = grey_value(j, parameters[j]);
  }
  out.a.force_scale = 1 + imbalance;
  out.b.force_scale = 1 - imbalance;
  return out;
}

}  // namespace evenbeam::identification
