#pragma once
// The search problem of this machine, from what machine.toml states ([homing]), what the recorded searches show and,
// last, what is commonly so; each assumption is said. Frame: x from A's mark, free skew 0, so that B's mark lies at
// -(b - a free) and a bridge switched on at raw skew 0 stands at skew -s_free.
#include <string>
#include <vector>

#include "homing/marks.h"
#include "homing/search_problem.h"

namespace evenbeam::homing {

struct SearchRequest {
  bool possible = false;
  std::vector<std::string> missing;  // sentences: what is needed, and the key that says it
  SearchProblem problem;
  std::vector<std::string> assumed;  // what was taken for granted, with where it comes from
};

SearchRequest search_request(const machine::Machine& machine, const Marks& marks,
                             std::optional<double> allowable_skew_m);

}  // namespace evenbeam::homing
