#pragma once
// The machines the generator knows: the demo's own, and any number of random ones.
#include <cstdint>

#include "campaign.h"

namespace generator {

Campaign harbour_cutter();
// A machine drawn from the ranges in demo/README.md. `loops_found` false: no stable loops were found for it (said,
// and the machine is left out of any scoring).
TrueGantry random_truth(std::uint64_t seed);  // the machine alone, at no cost
Campaign random_machine(std::uint64_t seed, bool& loops_found);

}  // namespace generator
