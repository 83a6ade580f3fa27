#include "units/spelling.h"

namespace evenbeam::units {
namespace {

struct Spelling {
  std::string_view from, to;
};

// Longer byte strings first: 0xC2 0xB5 is the UTF-8 micro sign, a lone 0xB5 the Latin-1 one.
constexpr Spelling spellings[] = {
    {"\xE2\x81\xBB", "-"},   // superscript minus
    {"\xE2\x88\x92", "-"},   // minus sign
    {"\xE2\x81\xB4", "^4"},  // superscript 4
    {"\xE2\x8B\x85", "*"},   // dot operator
    {"\xE2\x80\xAF", " "},   // narrow no-break blank
    {"\xE2\x80\x89", " "},   // thin blank
    {"\xC2\xA0", " "},       // no-break blank
    {"\xC2\xB5", "u"},       // micro sign
    {"\xCE\xBC", "u"},       // Greek mu
    {"\xC2\xB7", "*"},       // middle dot
    {"\xC2\xB9", "^1"},      // superscript 1
    {"\xC2\xB2", "^2"},      // superscript 2
    {"\xC2\xB3", "^3"},      // superscript 3
    {"\xC2\xB0", "deg"},     // degree sign
    {"\xB5", "u"},          {"\xB2", "^2"}, {"\xB3", "^3"}, {"\xB0", "deg"}, {"\t", " "},
};

}  // namespace

std::string trimmed(std::string_view text) {
  const size_t first = text.find_first_not_of(" \t");
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(" \t") - first + 1));
}

std::string plain_spelling(std::string_view text) {
  std::string plain;
  while (!text.empty()) {
    size_t taken = 0;
    for (const Spelling& spelling : spellings)
      if (taken == 0 && text.starts_with(spelling.from)) {
        // "s" superscript minus, superscript 1 becomes "s-^1": the caret after a minus is dropped.
        const bool after_minus = !plain.empty() && plain.back() == '-' && spelling.to.starts_with('^');
        plain += after_minus ? spelling.to.substr(1) : spelling.to;
        taken = spelling.from.size();
      }
    if (taken == 0) plain += text.front();
    text.remove_prefix(taken == 0 ? 1 : taken);
  }
  return trimmed(plain);
}

}  // namespace evenbeam::units
