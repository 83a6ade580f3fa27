#pragma once
// What makes the samples themselves doubtful, each as a finding in Recording.findings: missing values, samples that
// repeat while the bridge moves, outputs at their limit, a recorder slower than the loop, a count other than stated.
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::recording {

// Fills count_a_m and count_b_m and appends findings. Reads the rest only.
void check_signals(Recording& recording, const machine::Machine& machine);

// Smallest step that a quantised column makes: the smallest difference of neighbours above the rounding of its
// numbers; 0 where it never moves.
double smallest_count(const std::vector<double>& position_m);

}  // namespace evenbeam::recording
