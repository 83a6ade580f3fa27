#pragma once
// What a run is asked to follow, sampled at the servo period.
#include <vector>

namespace evenbeam::simulation {

// Reference, one entry a period. Rates may be left empty: they are then backward differences, as when replaying.
struct ReferenceTrack {
  std::vector<double> mean_m, skew_m;  // equal sizes; skew may be empty (zero)
  std::vector<double> mean_m_per_s, mean_m_per_s2, skew_m_per_s, skew_m_per_s2;
};

}  // namespace evenbeam::simulation
