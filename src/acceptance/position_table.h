#pragma once
// A positioning table as a laser or a scale leaves it, in any of the usual forms, to deviations by target, direction
// and run. Two forms, told apart by the header:
//   long   one reading a row: target, deviation or reading, and where known direction and run
//   wide   one target a row: the target, then one column for each run and direction ("1 up", "run 2 -", "3 falling")
// A long table without a direction column is read in the order it was measured: a target above the one before was
// approached rising, the same target again is the turn. The separator (; tab , or blanks) and the decimal sign are
// found from the lines; # begins a remark. Units stand in the header ("target mm", "deviation [um]") or are stated.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "acceptance/iso230_2.h"

namespace evenbeam::acceptance {

struct TableForm {
  std::optional<double> target_unit_m, value_unit_m;  // metres per unit; empty = the header says it
  std::optional<bool> readings;                       // true: values are positions, deviation = value - target
};

// Throws InputError with up to eight troubles, each with its line: no header, no target column, no unit, a cell that
// is no number, a row too short or too long, a direction that is no direction.
std::vector<TargetRuns> read_position_table(std::string_view text, const std::string& file,
                                            const TableForm& form = {});

}  // namespace evenbeam::acceptance
