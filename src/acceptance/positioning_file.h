#pragma once
// positioning.toml of a job: which positioning tables there are, what each measured, and what is known of the set-up.
// Format evenbeam.positioning/1 (docs/formats.md).
#include <optional>
#include <string>
#include <vector>

#include "acceptance/position_table.h"
#include "acceptance/positioning_uncertainty.h"

namespace evenbeam::acceptance {

enum class Measured { side_a, side_b, mean, skew };
std::string to_text(Measured measured);  // "side A", "side B", "mean", "skew"

struct PositioningPlan {
  std::string file;  // below the job's folder
  Measured of = Measured::mean;
  bool with_other_side = false;  // both sides read at the same stops, so that run j of A and of B belong together
  TableForm form;
  SetUp set_up;
  std::optional<double> limit_accuracy_m, limit_repeatability_m;  // A and R as the buyer's papers state them
  std::string limit_source;                                       // those papers
};

// Throws InputError with all troubles.
std::vector<PositioningPlan> read_positioning_file(const std::string& text, const std::string& file_name);

// A table read under its plan.
struct PositioningTable {
  PositioningPlan plan;
  std::vector<TargetRuns> runs;
};

}  // namespace evenbeam::acceptance
