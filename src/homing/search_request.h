#pragma once
// The search problem of this machine, from what machine.toml states ([homing]), what the recorded searches show and,
// last, what is commonly so; each assumption is said. Frame: x from A's mark, free skew 0, so that B's mark lies at
// -(b - a free) and a bridge switched on at raw skew 0 stands at skew -s_free.
#include <string>
#include <vector>

#include "base/estimate.h"
#include "homing/marks.h"
#include "homing/search_problem.h"

namespace evenbeam::homing {

// What a side's drive has to overcome on its way to a stop, by fit; absent where it is not known. Real newtons (the
// nameplate's where the force scale is unknown).
struct Resistance {
  std::optional<base::Estimate> coulomb_a_n, coulomb_b_n, viscous_a_n_s_per_m, viscous_b_n_s_per_m;
  std::optional<base::Estimate> force_scale_a, force_scale_b;  // real over commanded
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad, moving_mass_kg;
};

struct SearchRequest {
  bool possible = false;
  std::vector<std::string> missing;  // sentences: what is needed, and the key that says it
  SearchProblem problem;
  std::vector<std::string> assumed;  // what was taken for granted, with where it comes from
};

SearchRequest search_request(const machine::Machine& machine, const Marks& marks,
                             std::optional<double> allowable_skew_m, const Resistance& resistance = {});

}  // namespace evenbeam::homing
