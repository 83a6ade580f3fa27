#pragma once
// The visual language in one table: what a role looks like. Every distinction is made twice, by colour and by dash
// or shape, so that a grey print says the same.
#include <string>
#include <string_view>
#include <vector>

#include "base/figure.h"
#include "report/svg.h"

namespace evenbeam::report {

enum class Mark { dot, cross, plus, ring, diamond };

struct Look {
  Pen pen;
  Mark mark = Mark::dot;
};

// One look a line, in order. A second line of a role is drawn thinner (with a further dash where
// the dash does not tell the side); three or more of a role are all thin, so that none is stressed by accident.
std::vector<Look> looks(const base::Panel& panel);

// Path data of one mark, about 5 units wide.
void add_mark(std::string& path, Mark mark, Point at);

}  // namespace evenbeam::report
