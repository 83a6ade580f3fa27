#pragma once
// [thermal] of machine.toml; docs/formats.md.
#include <string>
#include <vector>

#include "machine/thermal.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {

void read_thermal(TableReader& table, Thermal& thermal);

// Words for materials, each with its coefficient near 20 degC and where that comes from.
struct Material {
  const char* word;
  double per_k;
  const char* source;
};
const std::vector<Material>& materials();

}  // namespace evenbeam::machine
