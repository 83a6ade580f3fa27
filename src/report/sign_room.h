#pragma once
// What the page to be signed has room for: all of it stands on one sheet of paper, so that nobody signs a page that
// does not hold the verdict. Heights are reckoned in points from the print rules of page_css.cpp with the widest of
// its faces (text_width); long texts are cut at a word, and what does not fit is counted, never dropped silently. The
// whole of every text stands in the parts that follow.
#include <string>
#include <string_view>
#include <vector>

#include "report/report.h"

namespace evenbeam::report {

inline constexpr double sign_font = 8.3, sign_line = 1.36 * sign_font, sign_gap = 0.35 * sign_font;  // points

struct Sheet {
  double width = 0, height = 0;  // between the margins, points
  double column = 0;             // of two
};
Sheet sheet_of(Paper paper);

// As it is where it takes no more than `lines`; else cut at a word, ending in an ellipsis.
std::string cut_to_lines(const std::string& text, double width, std::size_t lines, double size = sign_font);
std::size_t lines_of(std::string_view text, double width, double size = sign_font);

// Items of one list under a common cap of lines each, the largest (at most `most`) with which all fit into `height`;
// what is then left goes to those that were cut and can be whole with it, the first first. Where even one line each
// is too much, the last ones are left out and counted.
struct FittedList {
  std::vector<std::string> texts;
  std::size_t left_out = 0;
};
struct ListItem {
  std::string lead;  // stands before the text on its first line, and counts
  std::string text;
};
FittedList fit_list(const std::vector<ListItem>& items, double width, double height, std::size_t most);

// Height that is left for next step, proof lists, stops set aside and the job's own cautions together.
double variable_height(const ReportInput& input, const std::vector<const SettingsRow*>& front);

}  // namespace evenbeam::report
