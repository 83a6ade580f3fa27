#pragma once
// Pieces of the page: elements, tables, verdict shapes. Text that comes from outside goes through escape() here and
// nowhere else; what these functions return is markup.
#include <string>
#include <string_view>
#include <vector>

#include "base/finding.h"
#include "report/words.h"

namespace evenbeam::report {

// <tag attributes>content</tag>; content is markup.
std::string element(std::string_view tag, std::string_view content, std::string_view attributes = "");
// The same with text as content.
std::string text_element(std::string_view tag, std::string_view text, std::string_view attributes = "");

struct Column {
  std::string_view head;
  bool number = false;  // right-aligned, figures of equal width
};
// Cells are markup. Header cells carry their scope.
std::string table(const std::vector<Column>& columns, const std::vector<std::vector<std::string>>& rows,
                  std::string_view css_class = "");

// A shape for each verdict (ring with tick, triangle, octagon, dashed ring) and its word: told apart without colour.
std::string verdict_mark(base::Verdict verdict, const Words& words, bool with_word = true);

// "allowable_skew_m" -> "allowable skew": underscores to spaces, the unit's suffix left out.
std::string key_in_words(std::string_view key);
// The SI unit that a key's suffix states: "y_m" -> "m"; "1" where it states none.
std::string_view key_unit(std::string_view key);

}  // namespace evenbeam::report
