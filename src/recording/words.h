#pragma once
// Words that people write over columns: names taken apart into words and unit.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace evenbeam::recording {

// Without blanks and double quotes around it.
std::string clean_text(std::string_view text);
// At most 60 bytes, for messages; bytes that are no printable ASCII become ?.
std::string shortened(std::string_view text);
std::string lower_case(std::string_view text);  // ASCII letters only

// The unit a text names, in one spelling: "mm", "um", "count", "sample", "%", "A", "N", "ms", or any symbol of
// units/unit.h. Understands "microns", "msec", "pct", "Counts", the micro sign in UTF-8 and Latin-1.
// nullopt where the text names none.
std::optional<std::string> unit_word(std::string_view text);

// "pos_a_mm" -> {pos, a} and mm; "Time (ms)" -> {time} and ms; "ActPosA" -> {act, pos, a}; "A output %" -> {a,
// output} and %. Words are lower case, in order.
struct NameParts {
  std::vector<std::string> words;
  std::optional<std::string> unit;
};
NameParts take_apart(std::string_view name);

}  // namespace evenbeam::recording
