#pragma once
// One capture, after all distrust: SI, a uniform time base, known roles. Read by recording/import.h; every upper room
// sees captures only as this struct.
#include <optional>
#include <string>
#include <vector>

#include "base/finding.h"
#include "machine/settings.h"

namespace evenbeam::recording {

// What was done, recognised from the signals or stated by the person.
enum class RunKind {
  unknown,
  nudge,       // loops open, short pushes of one side or both, rests between
  multisine,   // loops closed, periodic excitation added to an output
  search,      // reference search: marks latched on the way
  test_move,   // closed-loop moves there and back
  slow_jog,    // closed-loop, long constant-speed parts (friction, pitch errors)
  skew_step,   // closed-loop steps of the skew reference at rest
  fault,       // an output goes to zero (or is lost) in motion by itself
  one_side,    // one side alone, bridge not connected
  standstill,  // nothing moves
  enabling,    // at rest, the outputs go off or come on: servo-off, servo-on, or both
  circle,      // closed loop, gantry axis and cross axis together on a circle, both ways round
};
std::string to_text(RunKind kind);  // "nudge", "test_move", ...
std::optional<RunKind> run_kind_of(const std::string& text);

enum class Excited { unknown, a, b, both };

// Columns: all present ones have time_s.size() values; absent ones are empty; NaN where a sample is missing.
struct Recording {
  std::string name;    // file name as in the folder
  std::string sha256;  // of the file as it came
  RunKind kind = RunKind::unknown;
  std::string kind_reason;             // why that kind, in words
  Excited excited = Excited::unknown;  // multisine: which side's output carries it
  double period_s = 0;                 // of the samples here, uniform
  std::vector<double> time_s;          // in the file's own time
  std::vector<double> reference_a_m, reference_b_m;
  std::vector<double> position_a_m, position_b_m;
  std::vector<double> reference_y_m, position_y_m;     // cross axis, from mid-span towards B; of circles alone
  std::vector<double> force_a_n, force_b_n;            // commanded newtons; the output that went to the drives
  std::vector<double> latched_a_m, latched_b_m;        // NaN until seen
  double count_a_m = 0, count_b_m = 0, count_y_m = 0;  // smallest position step seen in the file; 0 = not seen
  double first_period_s = 0;                           // excitation period where periodic; 0 = not
  std::optional<double> carriage_y_m, payload_kg;
  std::optional<double> temperature_k;     // of the machine while it was made, where stated
  std::string switch_on;                   // recordings with the same text share one switch-on: their skews compare
  std::optional<machine::Settings> loops;  // the settings it was made with, where stated
  double b_late_s = 0;                  // how much later B's position was sampled than A's; removed from position_b_m
  std::vector<base::Finding> findings;  // what the import noticed: jitter, gaps, time shift, clipped outputs
};

inline bool has_positions(const Recording& r) { return !r.position_a_m.empty() && !r.position_b_m.empty(); }
inline bool has_cross_axis(const Recording& r) { return !r.reference_y_m.empty() && !r.position_y_m.empty(); }
inline bool has_forces(const Recording& r) { return !r.force_a_n.empty() && !r.force_b_n.empty(); }
inline bool has_references(const Recording& r) { return !r.reference_a_m.empty() && !r.reference_b_m.empty(); }

}  // namespace evenbeam::recording
