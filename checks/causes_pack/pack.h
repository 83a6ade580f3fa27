#pragma once
// One case of the pack: a machine drawn from its seed, healthy or with defects of the bank, and the captures that a
// commissioning would make of it, as a job folder. The truth lies beside the job, where no station looks.
#include <cstdint>
#include <string>
#include <vector>

#include "bank.h"
#include "base/files.h"
#include "dynamics/plant.h"

namespace evenbeam::checks {

struct Seeded {
  const Defect* defect = nullptr;
  double size = 0;  // 0 to 1
};

struct Case {
  std::uint64_t seed = 1;
  std::vector<Seeded> defects;  // empty: healthy
};

// Seeds in turn: every fifth machine is healthy, the others carry the bank's defects one after the other, at a size
// drawn from the seed; with `two`, each carries another one besides.
Case case_of(std::uint64_t seed, bool two);

// Writes `folder`/job and `folder`/truth.json; the machine as it is without its defects.
dynamics::Plant write_case(base::Disk& disk, const std::string& folder, const Case& c);

}  // namespace evenbeam::checks
