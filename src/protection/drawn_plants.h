#pragma once
// Plants drawn from the fit's uncertainty: each parameter normal with its own standard deviation, clipped where it
// cannot go; parameters drawn apart (their covariance would make the set narrower).
#include <cstdint>
#include <vector>

#include "dynamics/plant.h"

namespace evenbeam::identification {
struct Identified;
}

namespace evenbeam::protection {

std::vector<dynamics::Plant> drawn_plants(const identification::Identified& identified, int count,
                                          std::uint64_t seed);

}  // namespace evenbeam::protection
