#pragma once
// ready.toml (format evenbeam.ready/1, docs/formats.md): what was measured and seen before the first push, line by
// line of the check sheet, and what was read from the drives. A value left empty ("") is a line not yet done.
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "readiness/check_line.h"
#include "readiness/parameter_compare.h"

namespace evenbeam::readiness {

// What the person wrote at one line.
struct Measured {
  std::optional<double> value;  // SI, of lines with a unit
  std::optional<bool> yes;      // of lines without
  double error = 0;             // half width of the instrument's doubt, SI, >= 0
  std::string instrument, by, note;
  std::string after;                // the repair after which it was looked at again, as `next --after` names it
  std::optional<double> low, high;  // limits that the person states, instead of the line's own
  std::string limit_source;
};

struct Sheet {
  std::string file;                                        // empty: there is none
  std::vector<std::pair<std::string, Measured>> measured;  // by line id, in the file's order; empty lines left out
  std::vector<ParameterText> parameters;                   // of A, then of B; empty where not both are named
  Stated stated;                                           // what the person says of parameters
};
const Measured* find_measured(const Sheet& sheet, const std::string& line);

// Bytes of a file that the sheet names, by its path in the job folder.
using ReadNamed = std::function<std::string(const std::string& path)>;
// Throws base::InputError with all troubles.
Sheet read_sheet(const std::string& text, const std::string& file_name, const std::vector<CheckLine>& lines,
                 const ReadNamed& read);

// The sheet to fill in: every line with how, what is good and why; empty places for what is measured.
std::string empty_sheet(const std::vector<CheckLine>& lines, const machine::Machine& machine);
// The lines alone, without the file's beginning.
std::string sheet_lines(const std::vector<CheckLine>& lines, const machine::Machine& machine);
// The file with the lines that it lacks put behind its end, byte for byte the same before; nullopt where it lacks
// none.
std::optional<std::string> with_missing_lines(const std::string& text, const std::string& file_name,
                                              const std::vector<CheckLine>& lines, const machine::Machine& machine);

}  // namespace evenbeam::readiness
