#pragma once
// What was done in a recording, recognised from its signals, with the reason in words. The person's word rules; the
// signals only fill what is not stated.
#include "machine/machine.h"
#include "recording/plan.h"
#include "recording/recording.h"

namespace evenbeam::recording {

// Sets kind, kind_reason, excited and first_period_s of the recording, and the same in the plan where it was silent.
void settle_kind(Recording& recording, RecordingPlan& plan, const machine::Machine& machine);

}  // namespace evenbeam::recording
