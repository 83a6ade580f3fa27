#pragma once
// Settles what each column is and what one of its units means in SI, from (first that says so): its entry in
// recordings.toml, its name or the units row, the entry's group unit, the preamble, the [all] group unit.
// Nothing is guessed: what nobody said is a question, and all questions come in one base::InputError with the lines
// to add. The one inference made is for a time column without unit beside a stated rate: its step then proves the
// unit.
#include <string>
#include <vector>

#include "base/finding.h"
#include "base/input_error.h"
#include "machine/machine.h"
#include "recording/plan.h"
#include "recording/table.h"

namespace evenbeam::recording {

// What the trouble of a column without unit is said to expect: the one question that a line of recordings.toml
// answers.
inline constexpr const char* kUnitSomebodyStates = "a unit that somebody states: it is never guessed";
bool lacks_units_only(const base::InputError& error);

struct SettledColumns {
  std::vector<ColumnPlan> columns;      // role, unit and scale of each; scale NaN: left out, a finding says why
  double rate_hz = 0;                   // stated rate; 0 = from the time column alone
  std::vector<base::Finding> findings;  // columns left out and why
};

SettledColumns settle_columns(const Table& table, const RecordingPlan& plan, const machine::Machine& machine,
                              const std::string& file);

// The step between the rows of a column that rises evenly: the median difference; NaN where there is none.
double median_step(const std::vector<double>& values);

}  // namespace evenbeam::recording
