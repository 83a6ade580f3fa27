#pragma once
// The capture each station lives on. Levels are upper bounds of common practice (no source); next_step puts in those
// that `limits` has found.
#include "workflow/stations.h"

namespace evenbeam::workflow {

CaptureSheet ready_sheet();
CaptureSheet survey_sheet();
CaptureSheet limits_sheet();
CaptureSheet nudge_sheet();
CaptureSheet marks_sheet();
CaptureSheet square_sheet();
CaptureSheet fit_sheet();
CaptureSheet loops_sheet();
CaptureSheet trips_sheet();
CaptureSheet rehearse_sheet();
CaptureSheet causes_sheet();
CaptureSheet prove_sheet();
CaptureSheet handover_sheet();

}  // namespace evenbeam::workflow
