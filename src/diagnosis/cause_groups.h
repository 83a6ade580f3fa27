#pragma once
// One defect shows by several findings: late sampling by a shift that the import has proven and by a drag that it
// looks like, crossed outputs by crossed sides and by signs. Findings that name one defect, or that these captures
// cannot tell apart, are one cause, so that its odds are said once (odds.h). Table: cause_groups.cpp; why:
// docs/causes.md.
#include <string>
#include <string_view>
#include <vector>

#include "base/finding.h"

namespace evenbeam::diagnosis {

// Of a kind (ranking.h): the defect it names; a kind that no row has is a cause of its own.
std::string cause_of(std::string_view kind);

struct CauseGroup {
  std::string cause;
  std::vector<std::size_t> members;  // places in the list given, rising: the first leads
};
// In the order of their leaders.
std::vector<CauseGroup> grouped(const std::vector<base::Finding>& ranked);

inline constexpr std::string_view kUnknownCause = "unknown_cause";

}  // namespace evenbeam::diagnosis
