#pragma once
// What the names over the columns and the lines above them say. Only what is said: a name that could mean two things
// gives ColumnRole::unknown, a unit that is not written gives "". Sides are A and B; left, right, 1, 2 and the like
// are nobody's business but the person's, so they stay unknown.
#include <optional>
#include <string>
#include <vector>

#include "recording/plan.h"

namespace evenbeam::recording {

// One column's role and unit from its name and the cell under it in the units row ("" where there is none).
ColumnPlan guess_column(const std::string& name, const std::string& unit_cell);

// All of them. A role that two columns would have becomes unknown for both.
std::vector<ColumnPlan> guess_columns(const std::vector<std::string>& names,
                                      const std::vector<std::string>& unit_row);

// "Recorder rate: 1000 Hz", "Sampling period = 0,2 ms", "Units: counts, A". Two lines that contradict each other, or
// a word about decimation beside a rate, leave it open.
struct PreambleFacts {
  std::optional<double> rate_hz;
  GroupUnits units;
};
PreambleFacts read_preamble(const std::vector<std::string>& lines);

// Which group of GroupUnits a unit belongs to.
enum class UnitGroup { none, time, position, output };
UnitGroup group_of_unit(const std::string& unit);
UnitGroup group_of_role(ColumnRole role);

}  // namespace evenbeam::recording
