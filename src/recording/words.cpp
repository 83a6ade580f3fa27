#include "recording/words.h"

#include <algorithm>
#include <array>
#include <utility>

#include "units/unit.h"

namespace evenbeam::recording {
namespace {

using Pair = std::pair<std::string_view, std::string_view>;

// Other spellings met in exports; left in lower case.
constexpr std::array<Pair, 51> kSpellings{{
    {"micron", "um"},
    {"microns", "um"},
    {"mu", "um"},
    {"inch", "in"},
    {"inches", "in"},
    {"meter", "m"},
    {"meters", "m"},
    {"metre", "m"},
    {"metres", "m"},
    {"millimeter", "mm"},
    {"millimetre", "mm"},
    {"count", "count"},
    {"counts", "count"},
    {"cnt", "count"},
    {"cnts", "count"},
    {"cts", "count"},
    {"ct", "count"},
    {"inc", "count"},
    {"incs", "count"},
    {"incr", "count"},
    {"increment", "count"},
    {"increments", "count"},
    {"pulse", "count"},
    {"pulses", "count"},
    {"pct", "%"},
    {"percent", "%"},
    {"%", "%"},
    {"amp", "A"},
    {"amps", "A"},
    {"ampere", "A"},
    {"amperes", "A"},
    {"newton", "N"},
    {"newtons", "N"},
    {"sec", "s"},
    {"secs", "s"},
    {"second", "s"},
    {"seconds", "s"},
    {"msec", "ms"},
    {"millisecond", "ms"},
    {"milliseconds", "ms"},
    {"usec", "us"},
    {"microsecond", "us"},
    {"microseconds", "us"},
    {"sample", "sample"},
    {"samples", "sample"},
    {"smp", "sample"},
    {"ma", "mA"},
    {"kn", "kN"},
    {"n", "N"},
    {"a", "A"},
    {"khz", "kHz"},
}};

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'); }
bool is_upper(char c) { return c >= 'A' && c <= 'Z'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

// The micro sign (U+00B5, in Latin-1 one byte) and the Greek mu (U+03BC) written as u.
std::string with_plain_micro(std::string_view text) {
  std::string plain;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const std::string_view pair = text.substr(i, 2);
    if (pair == "\xC2\xB5" || pair == "\xCE\xBC") {
      plain += 'u';
      ++i;
    } else {
      plain += text[i] == '\xB5' ? 'u' : text[i];
    }
  }
  return plain;
}

// "ActPosA2" -> Act Pos A 2, "pos_a" -> pos a; % is a word of its own.
std::vector<std::string> split_words(std::string_view text) {
  std::vector<std::string> words;
  std::string word;
  const auto finish = [&] {
    if (!word.empty()) words.push_back(std::exchange(word, ""));
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '%') {
      finish();
      words.emplace_back("%");
    } else if (!is_letter(c) && !is_digit(c)) {
      finish();
    } else {
      const char previous = word.empty() ? c : word.back();
      const bool hump = is_upper(c) && is_letter(previous) && !is_upper(previous);
      if (!word.empty() && (hump || is_digit(c) != is_digit(previous))) finish();
      word += c;
    }
  }
  finish();
  return words;
}

// The last bracket of a name, where it names a unit; the name loses it.
std::optional<std::string> take_bracket_unit(std::string& name) {
  for (const auto& [open, close] : std::array<std::pair<char, char>, 3>{{{'(', ')'}, {'[', ']'}, {'{', '}'}}}) {
    const std::size_t from = name.rfind(open);
    const std::size_t to = from == std::string::npos ? from : name.find(close, from);
    if (to == std::string::npos) continue;
    const auto unit = unit_word(std::string_view(name).substr(from + 1, to - from - 1));
    if (!unit) continue;
    name.erase(from, to - from + 1);
    return unit;
  }
  return std::nullopt;
}

}  // namespace

std::string clean_text(std::string_view text) {
  constexpr std::string_view around = " \t\r\f\v\"";
  const std::size_t first = text.find_first_not_of(around);
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(around) - first + 1));
}

std::string shortened(std::string_view text) {
  std::string shown(text.substr(0, 60));
  for (char& c : shown)
    if (static_cast<unsigned char>(c) < 32 || static_cast<unsigned char>(c) > 126) c = c == '\t' ? ' ' : '?';
  return text.size() > 60 ? shown + "..." : shown;
}

std::string lower_case(std::string_view text) {
  std::string lower(text);
  for (char& c : lower)
    if (is_upper(c)) c = static_cast<char>(c - 'A' + 'a');
  return lower;
}

std::optional<std::string> unit_word(std::string_view text) {
  const std::string plain = with_plain_micro(clean_text(text));
  if (plain.empty() || plain.size() > 16) return std::nullopt;
  // "mA" is milliampere and "MA" is none of ours: exact spelling first, then the lower case of longer words.
  if (units::find_unit(plain)) return plain;
  const std::string lower = lower_case(plain);
  const auto known =
      std::find_if(kSpellings.begin(), kSpellings.end(), [&](const Pair& p) { return p.first == lower; });
  if (known != kSpellings.end()) return std::string(known->second);
  if (lower.size() == 2 && units::find_unit(lower)) return lower;  // "MM", "Ms"
  if (lower == "s" || lower == "m") return lower;
  return std::nullopt;
}

NameParts take_apart(std::string_view name) {
  NameParts parts;
  std::string rest = with_plain_micro(name);
  parts.unit = take_bracket_unit(rest);
  for (const std::string& word : split_words(rest)) parts.words.push_back(word);
  // A last word that names a unit, where another word stands before it; "a" alone is a side unless a side came
  // before.
  if (!parts.unit && parts.words.size() > 1) {
    const std::string last = lower_case(parts.words.back());
    const auto earlier_side = [&](std::size_t i) {
      return lower_case(parts.words[i]) == "a" || lower_case(parts.words[i]) == "b";
    };
    bool side_before = false;
    for (std::size_t i = 0; i + 1 < parts.words.size(); ++i) side_before = side_before || earlier_side(i);
    if (last != "a" || side_before) parts.unit = unit_word(parts.words.back());
    if (parts.unit) parts.words.pop_back();
  }
  if (parts.unit && !parts.words.empty() && lower_case(parts.words.back()) == "in") parts.words.pop_back();
  for (std::string& word : parts.words) word = lower_case(word);
  return parts;
}

}  // namespace evenbeam::recording
