#pragma once
// How often the 95 % intervals of the fight budget hold what the virtual gantry was made with, on healthy machines at
// even speed. With g the mean force a commanded newton of both sides and e half their relative difference:
//   Coulomb +-(c_A - c_B)/(2 g), viscous v (b_A - b_B)/(2 g), force per output -e S/2, rest 0,
//   yaw spring and damping: the whole less these
// At rest friction is held with a size that nobody knows, so the parts have no truth there.
#include <map>
#include <string>

#include "base/finding.h"
#include "dynamics/plant.h"

namespace evenbeam::checks {

struct Held {
  int asked = 0, held = 0;
  double half_width = 0, miss = 0;  // sums, as parts of the mean Coulomb friction
};
using Cover = std::map<std::string, Held>;  // by part

void add_budget(const base::StationResult& causes, const dynamics::Plant& truth, Cover& cover);
std::string cover_table(const Cover& cover);

}  // namespace evenbeam::checks
