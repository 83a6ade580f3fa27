// The sheet as a person gets it: TOML with the check's words as remarks above the places to fill in.
#include <fmt/format.h>

#include "readiness/ready_file.h"

namespace evenbeam::readiness {
namespace {

constexpr std::size_t remark_width = 116;

constexpr const char* beginning =
    R"(# Is it fit to be moved? Fill in between the quotes, in the order of the sheet; "" is a line not yet done.
# CAUTION. A moving bridge crushes. Drives off and locked out whenever hands are in the machine; a brake is no lock.
# Local codes, the machine's own risk assessment and the makers' manuals go before every line below.
# Where a line says seen: "yes" or "no". Where it says measured: the number with its unit, and the instrument.
# You may add to any line: error = "2 um" (the instrument's doubt, plus or minus), by = "name", note = "text", and a limit
# that you know better: limit = "20 um" (at most), limit_low = "5 um" (at least), limit_source = "the guide maker's sheet".

format = "evenbeam.ready/1"

# Both drives' parameter sets, read back from the drives as text (name and value a line, any layout), below the job folder.
[parameters]
a = ""                          # "drives/a.txt"
b = ""
)";

// Words as remark lines.
std::string remark(const std::string& head, const std::string& words) {
  std::string out, line = "# " + head;
  std::size_t at = 0;
  while (at < words.size()) {
    const std::size_t end = std::min(words.find(' ', at), words.size());
    const std::string word = words.substr(at, end - at);
    if (line.size() + 1 + word.size() > remark_width) {
      out += line + "\n";
      line = "#  ";
    }
    line += " " + word;
    at = end + 1;
  }
  return out + line + "\n";
}

std::string one_line(const CheckLine& line, const machine::Machine& machine) {
  std::string out = fmt::format("\n# {}\n", line.what);
  out += remark("How:", line.how);
  out += remark("Good:", fmt::format("{}; {} [{}]. Opens: {}.", good_words(line, line.low, line.high, machine),
                                     line.why, line.source, to_text(line.gate)));
  out += fmt::format("[check.{}]\n", line.id);
  if (line.unit.empty()) return out + "seen = \"\"\n";
  return out + fmt::format("measured = \"\"                   # \"{}\"\ninstrument = \"\"\n", line.example);
}

}  // namespace

std::string sheet_lines(const std::vector<CheckLine>& lines, const machine::Machine& machine) {
  std::string out;
  std::optional<Part> part;
  for (const CheckLine& line : lines) {
    if (part != line.part) out += fmt::format("\n# ---- {} ----\n", to_text(line.part));
    part = line.part;
    out += one_line(line, machine);
  }
  return out;
}

std::string empty_sheet(const std::vector<CheckLine>& lines, const machine::Machine& machine) {
  return beginning + sheet_lines(lines, machine);
}

}  // namespace evenbeam::readiness
