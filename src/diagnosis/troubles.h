#pragma once
// The list of difficulties that machines of this kind are known for (field list, 42 rows), and who asks each: a
// criterion on the captures, another station whose finding is repeated, or nobody, because no capture tells. Of each:
// is it named, and what would settle it. No row says that a difficulty is not there: what is not named may not have
// been asked for want of captures.
#include <span>
#include <string_view>
#include <vector>

#include "base/finding.h"

namespace evenbeam::diagnosis {

struct Trouble {
  int row = 0;
  const char* name = "";
  std::vector<std::string_view> kinds;  // beginnings of ids of `causes` that name it; empty: no capture tells
  const char* settle = "";              // the capture or check that settles it
};
std::span<const Trouble> troubles();

// Rows {row, trouble, state, by, settle}: state "named", "not named" or "no capture tells"; by: the findings that
// name it, else empty. `findings`: those of station `causes`.
std::vector<base::Row> trouble_rows(const std::vector<base::Finding>& findings);

}  // namespace evenbeam::diagnosis
