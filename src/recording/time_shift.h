#pragma once
// Whether B's position was sampled later than A's: a false skew of speed times shift (field knowledge: a skew read
// from unsynchronised samples is no skew).
#include <optional>

#include "recording/recording.h"

namespace evenbeam::recording {

// Stated: removed from position_b_m. Not stated: estimated, removed only where proven, else said.
void settle_time_shift(Recording& recording, const std::optional<double>& stated_s);

}  // namespace evenbeam::recording
