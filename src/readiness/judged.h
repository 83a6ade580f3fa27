#pragma once
// The sheet held against what was measured: the state of each line, and which gates it holds shut.
// A measured value is good where all of value +- error lies within the limits, bad where none of it does, and close
// where the instrument cannot tell.
#include <string>
#include <vector>

#include "base/finding.h"
#include "readiness/ready_file.h"

namespace evenbeam::readiness {

enum class State { missing, good, close, bad, no_limit };
std::string to_text(State state);

struct Judged {
  CheckLine line;
  const Measured* measured = nullptr;  // of the sheet judged, which outlives this; nullptr: not done
  std::optional<double> low, high;     // limits used: the person's, else the line's
  State state = State::missing;
};
std::vector<Judged> judge(const std::vector<CheckLine>& lines, const Sheet& sheet);

// How far the machine has come, by its captures. Before the first push, its gate and the one before are due; once it
// was pushed, the gate of the first move is due as well.
enum class Reached { nothing, pushed, moved };
bool is_due(Gate gate, Reached reached);

// One finding for each line that is not good: a stop where its gate is due, else attention (bad and close) or none.
std::vector<base::Finding> line_findings(const std::vector<Judged>& lines, Reached reached,
                                         const machine::Machine& machine);
// Rows for report and page, one list a part: check, how, good, measured, opens, state.
std::vector<base::Row> sheet_rows(const std::vector<Judged>& lines, Part part, const machine::Machine& machine);
// Which gates are open, and which lines and stops of `others` (parameters, brakes against gravity) hold the rest.
std::vector<base::Row> gate_rows(const std::vector<Judged>& lines, const std::vector<base::Finding>& others);

}  // namespace evenbeam::readiness
