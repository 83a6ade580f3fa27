#pragma once
// A periodic excitation in the outputs, found by correlating pieces of their differences with all that follows.
#include <optional>

#include "machine/machine.h"
#include "recording/motion.h"
#include "recording/recording.h"

namespace evenbeam::recording {

struct Excitation {
  double period_s = 0;
  double repeated_part = 0;            // of the power of the outputs' differences, 0..1
  Excited excited = Excited::unknown;  // the side whose differences have over 1.5 times the other's power; else both
};

// Looks in the longest stretch of even speed (or rest). nullopt where the outputs do not repeat at least twice, are
// weak (under 1 % of their peak force, RMS), or repeat with a turn of screw or pinion.
std::optional<Excitation> find_excitation(const Recording& recording, const Motion& motion,
                                          const machine::Machine& machine);

}  // namespace evenbeam::recording
