#pragma once
// What station `causes` said of each machine of the pack, kept in a file so that odds can be trained and judged, and
// a long run taken up again, without making the captures anew. One line of JSON a machine, appended as it is done; a
// line that was cut off is not read and its machine is made again.
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "base/finding.h"
#include "pack.h"

namespace evenbeam::checks {

// Of one machine. The defects are those of case_of(seed, two); their names are kept to refuse another bank's file.
struct Filed {
  std::uint64_t seed = 0;
  bool two = false;
  std::string defects;                   // names, "; " between
  bool traced = true;                    // the twin was run; without it the next two are not known
  bool untraced = false, small = false;  // trace.h: no trace; does not matter. Of healthy machines both false
  std::string failed;                    // why it could not be made or read
  std::vector<base::Finding> met;        // attention findings in the order of the rules: id, recording, value, limit
  std::vector<std::string> asks;         // ids of findings that ask for a capture
};

std::string defects_text(const Case& c);
std::string line_of(const Filed& filed);

// By seed; lines of the other kind (`two`), cut lines and those whose defects are not the bank's of today are left
// out.
std::map<std::uint64_t, Filed> read_filed(const std::string& path, bool two);
void append_line(const std::string& path, const std::string& line);

}  // namespace evenbeam::checks
