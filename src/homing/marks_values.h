#pragma once
// What station `marks` has worked out, and its values (docs/formats.md, "Values of marks"). Private to the station.
#include <optional>

#include "homing/attitude_findings.h"
#include "homing/marks_station.h"
#include "homing/search_request.h"
#include "homing/take_out_replay.h"

namespace evenbeam::homing {

struct MarksParts {
  Marks marks;
  SearchRequest request;
  SearchPlan plan;
  HomeOffsets offsets;
  bool turns_freely = false;
  AttitudeInput attitude_input;
  std::optional<AttitudeTrade> trade;  // where squareness is measured
  TakeOutInput take_out_input;
  TakeOut take_out;
  std::optional<TakeOutRun> played;  // of the skew taken out
};

void put_marks_values(base::StationResult& result, const MarksParts& parts, const MarksInput& input,
                      const SearchRecipe& recipe);

}  // namespace evenbeam::homing
