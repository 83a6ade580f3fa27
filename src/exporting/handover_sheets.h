#pragma once
// The sheets that the next person needs, as rows for the record: what to keep a copy of, what a spare part must
// match, and the numbers of the healthy machine with the change at which to act. From machine.toml and what the
// stations found; what is not known is named. Thresholds: common practice, no source.
#include <optional>
#include <string>
#include <vector>

#include "base/finding.h"
#include "machine/machine.h"

namespace evenbeam::exporting {

// Rows {what, where, why}.
std::vector<base::Row> backup_list(const machine::Machine& machine);

struct SpareParts {
  std::vector<base::Row> rows;       // {part, side, must_match, unknown}
  std::vector<std::string> unknown;  // keys of machine.toml that an order would need
};
SpareParts spare_parts(const machine::Machine& machine);

// One number of the healthy machine.
struct BaselineRule {
  const char *station, *key, *words, *watch;  // watch: the capture that shows it
  double below = 0, above = 0;                // act where the value leaves [value (1 - below), value (1 + above)];
                                              // 0 = that direction tells nothing
  double least = 0;                           // no change smaller than this counts, in the value's unit
};
// Rows {what, now, unit, act_below, act_above, watch}; only what is known.
std::vector<base::Row> maintenance_baseline(const std::vector<base::StationResult>& stations);

}  // namespace evenbeam::exporting
