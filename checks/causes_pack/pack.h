#pragma once
// One case of the pack: a machine drawn from its seed, healthy or with defects of the bank, and the captures that a
// commissioning would make of it, as a job folder. The truth lies beside the job, where no station looks.
#include <cstdint>
#include <string>
#include <vector>

#include "bank.h"
#include "base/files.h"
#include "dynamics/plant.h"
#include "trace.h"

namespace evenbeam::checks {

struct Seeded {
  const Defect* defect = nullptr;
  double size = 0;  // 0 to 1
};

struct Case {
  std::uint64_t seed = 1;
  std::vector<Seeded> defects;  // empty: healthy
  std::string papers;           // more of machine.toml,
  std::string ready;            // ready.toml; empty: none, and
  std::string broken;           // a defects.toml without its format, and
  std::string square;           // squareness.toml, empty: none; all of sheets.h
};

// Seeds in turn: every fifth machine is healthy, the others carry the bank's defects one after the other, at a size
// drawn from the seed; with `two`, each carries another one besides.
Case case_of(std::uint64_t seed, bool two);

struct Written {
  dynamics::Plant plant;  // of the machine as it is without its defects
  Measure measure;
  Trace trace;  // only where asked
};

// Writes `folder`/job and `folder`/truth.json. `traced`: runs the healthy twin besides.
Written write_case(base::Disk& disk, const std::string& folder, const Case& c, bool traced = false);

}  // namespace evenbeam::checks
