#pragma once
// What is broken on a virtual gantry, as plain data: a list of named changes, each with a number in SI. Every hook
// that the plant, its effects, loops, feedback and captures have is one row of one table (defects_table.cpp): the
// reader of defects.toml, the truth file and the page of the docs all stand on it. Without a change every run is the
// same to the last bit. Format evenbeam.defects/1: docs/formats.md.
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "simulation/closed_loop.h"

namespace evenbeam::machine {
class TableReader;
}

namespace evenbeam::rehearsal {

// What a recorder or a person at the controller would see differently, of one side.
struct SideCapture {
  double mark_off_m = 0, mark_off_every_second_m = 0;  // added to the latched reading
  double mark_scatter_m = 0;                           // standard deviation
  bool mark_missing = false, mark_missing_every_second = false;
  double reference_late_s = 0,
         reference_scale = 0;  // this side's command comes late; is (1 + scale) of what it should
};

// A gantry with all that may be broken around it.
struct Target {
  simulation::Gantry gantry;
  simulation::Broken a, b;
  simulation::LoopBreaks breaks;
  std::optional<servo::Structure> structure;
  double carriage_swing_m = 0, carriage_swing_hz = 1;  // along y, from where it stands: y + swing (1 - cos(wt))/2
  double mean_gain_factor = 1, skew_gain_factor = 1, share_added = 0, skew_reference_m = 0;
  SideCapture capture_a, capture_b;
  double rack_factor = 1, referenced_skew_m = 0, between_captures_s = 0, stress_free_drift_m_per_s = 0;
};

// One hook. `unit` is SI; "1" = plain number, "yes" = on or off (1 or 0).
struct Quantity {
  std::string_view where;  // "side" (side_a or side_b), "bridge", "loops", "captures"
  std::string_view key, unit;
  double low = 0, high = 0;
  std::string_view example;
  void (*put)(Target& target, bool on_b, double value) = nullptr;
};
std::span<const Quantity> quantities();

struct Change {
  std::string where;  // "side_a", "side_b", "bridge", "loops", "captures"
  std::string key;
  double value = 0;  // SI
};
struct Defects {
  std::string name;
  std::vector<std::string> runs;  // takes that have it ("move", ...; "rehearse"); empty = all
  std::optional<double> from_s;   // changes of side and bridge begin in the run; empty = from its start
  std::vector<Change> changes;    // in the table's order
};

std::string unit_of(const Change& change);  // SI; "1" for a plain number, "yes" for what is on or off

// Throws base::InputError with all troubles.
Defects read_defects(const std::string& text, const std::string& file_name);
// The same keys in a table of another file (but `format`); leaves its troubles with the reader.
Defects read_defects(machine::TableReader& table, const std::string& name_where_absent);

// Which run it is, and how long after the first one it is made.
struct RunPlace {
  std::string run;  // a take's word, or "rehearse"; empty = a run without name: only what holds everywhere
  double clock_s = 0;
};
bool holds_in(const Defects& defects, const RunPlace& place);

// What holds from the start of the run, all changed. Throws base::InputError where changes cannot be together.
Target broken(const simulation::Gantry& healthy, const std::vector<Defects>& all, const RunPlace& place);
// The run with everything broken: gantry, events, loops, references. Untouched where nothing holds in it.
simulation::RunDescription with_defects(simulation::RunDescription run, const std::vector<Defects>& all,
                                        const RunPlace& place);

}  // namespace evenbeam::rehearsal
