#include "cli/console.h"

#include <ostream>

namespace evenbeam::cli {

std::string verdict_word(base::Verdict verdict, bool colour) {
  std::string word = base::to_text(verdict);
  word.resize(9, ' ');  // "attention"
  if (!colour) return word;
  const char* code = verdict == base::Verdict::pass        ? "32"
                     : verdict == base::Verdict::attention ? "33"
                     : verdict == base::Verdict::stop      ? "1;31"
                                                           : "2";
  return std::string("\x1b[") + code + "m" + word + "\x1b[0m";
}

std::string first_sentence(const std::string& text) {
  // A full stop inside a number or a file name is followed by no blank.
  const std::size_t line = text.find('\n');
  const std::size_t end = text.find(". ");
  if (end < line && end != std::string::npos) return text.substr(0, end + 1);
  return text.substr(0, line);
}

std::string wrapped(const std::string& text, std::size_t indent, std::size_t width) {
  std::string lines, line;
  std::size_t from = 0;
  while (from < text.size()) {
    const std::size_t blank = std::min(text.find_first_of(" \n", from), text.size());
    const std::string word = text.substr(from, blank - from);
    if (!line.empty() && indent + line.size() + 1 + word.size() > width) {
      lines += line + "\n" + std::string(indent, ' ');
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
    if (blank < text.size() && text[blank] == '\n') {
      lines += line + "\n" + std::string(indent, ' ');
      line.clear();
    }
    from = blank + 1;
  }
  return lines + line;
}

void ProgressLine::operator()(const std::string& doing) {
  if (std::chrono::steady_clock::now() - begun_ < std::chrono::seconds(1)) return;
  console_.err << "... " << doing << std::endl;
}

}  // namespace evenbeam::cli
