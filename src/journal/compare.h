#pragma once
// Two evaluations side by side: what changed, and what can have changed it. A value counts as changed where each lies
// outside the other's interval. Numbers that no interval comes with, and settings that differ by less than a
// hundredth, are kept apart: nothing says whether they changed by more than captures repeat.
#include <string>
#include <vector>

#include "journal/record.h"

namespace evenbeam::journal {

struct Change {
  std::string kind;   // "program", "input", "verdict", "value", "settings", "override"
  std::string place;  // "fit.yaw_stiffness_n_m_per_rad", "06-move.csv", "nudge"
  std::string text;   // the change in words
  double part = 0;    // of a number without interval: the change over the larger of both
};

struct Comparison {
  std::vector<Change> causes;   // program, inputs
  std::vector<Change> effects;  // verdicts, values, settings, overrides
  std::vector<Change> unsure;   // values and settings that differ, largest part first
  std::string why;              // one sentence that ties them together
};

Comparison compare(const EvaluationRecord& before, const EvaluationRecord& after);

}  // namespace evenbeam::journal
