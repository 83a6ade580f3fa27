#pragma once
// What must always be said beside numbers that make a machine move: one text for report, command line, page and
// README, so that none of them says less.
#include <string_view>
#include <vector>

namespace evenbeam::report {

struct Caution {
  std::string_view id;    // stable
  std::string_view head;  // a few words
  std::string_view text;  // a sentence or two a mechanic can act on
};

const std::vector<Caution>& cautions();

}  // namespace evenbeam::report
