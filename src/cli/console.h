#pragma once
// Where a command prints, and how: words on out, progress on err, colours only for people.
#include <chrono>
#include <iosfwd>
#include <string>

#include "base/finding.h"

namespace evenbeam::cli {

struct Console {
  std::ostream& out;
  std::ostream& err;
  bool colour = false;
};

// "attention " padded to the longest verdict, coloured where colours are on.
std::string verdict_word(base::Verdict verdict, bool colour);
// The first sentence of a text; the whole text where it has only one.
std::string first_sentence(const std::string& text);
// Breaks a text into lines of at most `width`, every line but the first indented.
std::string wrapped(const std::string& text, std::size_t indent, std::size_t width = 100);

// Says on err what is being done, once it has taken longer than a second.
class ProgressLine {
 public:
  explicit ProgressLine(Console& console) : console_(console), begun_(std::chrono::steady_clock::now()) {}
  void operator()(const std::string& doing);

 private:
  Console& console_;
  std::chrono::steady_clock::time_point begun_;
};

}  // namespace evenbeam::cli
