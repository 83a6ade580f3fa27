#pragma once
// What other stations may know when `ready` looks again; SI, real newtons. Absent: the papers speak, or nothing.
#include <optional>

#include "base/estimate.h"

namespace evenbeam::readiness {

struct Known {
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad, yaw_inertia_kg_m2, moving_mass_kg;
  std::optional<base::Estimate> coulomb_a_n, coulomb_b_n;
  std::optional<double> allowable_skew_m;  // off the stress-free attitude
};

}  // namespace evenbeam::readiness
