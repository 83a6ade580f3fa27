#pragma once
// What a recording file is: one entry of recordings.toml, and what the import made of it. docs/formats.md.
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "machine/settings.h"
#include "recording/recording.h"

namespace evenbeam::recording {

enum class ColumnRole {
  unknown,  // a question to the person
  ignored,
  time,
  reference_a,
  reference_b,
  reference_both,  // both: one commanded position for the two sides
  position_a,
  position_b,
  output_a,
  output_b,
  latched_a,
  latched_b,
  reference_y,  // cross axis, of circles alone
  position_y,
};
std::string to_text(ColumnRole role);  // "time", "position_a", ..., "?" for unknown
std::optional<ColumnRole> column_role_of(std::string_view text);

struct ColumnPlan {
  ColumnRole role = ColumnRole::unknown;
  std::string unit;  // "mm", "count", "sample", "%", "A", "0.5 um" (one raw unit is that); "" = not stated
  double scale = std::numeric_limits<double>::quiet_NaN();  // SI (or newton) per raw unit, once the units are settled
};

// Units for whole groups of columns; "" = not stated.
struct GroupUnits {
  std::string time, position, output;  // position: also references and latched marks
};

struct RecordingPlan {
  std::string file;
  bool guessed = false;  // written by the program, not yet confirmed
  std::string skip;      // reason to leave the file out; "" = use it
  std::optional<RunKind> kind;
  std::string kind_reason;          // where the program recognised it
  std::vector<std::string> names;   // header the columns were planned for; empty = not checked
  std::vector<ColumnPlan> columns;  // in file order; empty = guess
  GroupUnits units;                 // stated for this file
  GroupUnits fallback_units;        // stated under [all]: where neither the file nor its entry says
  std::optional<char> separator, decimal_sign;
  std::optional<double> rate_hz;  // where there is no time column, or one that counts samples
  std::optional<double> carriage_y_m, payload_kg;
  std::optional<double> temperature_k;  // of the machine, where stated
  std::optional<double> b_late_s;       // how much later B was sampled than A, where known; 0 = surely together
  std::optional<double> excitation_period_s;
  Excited excited = Excited::unknown;
  std::string switch_on;
  std::optional<machine::Settings> loops;
  std::string loops_name;
  std::string notes;
};
// Whether both tell the import the same; a column's scale is no part of it, since it follows from the unit.
bool same_entry(const RecordingPlan& a, const RecordingPlan& b);

}  // namespace evenbeam::recording
