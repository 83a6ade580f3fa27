#pragma once
// Structured text of IEC 61131-3 cut into words: the subset that this project writes, read strictly. Only ASCII; case
// does not matter; comments (* ... *) do not nest; real numbers have digits on both sides of the point. What is not
// understood throws Refused with its line. Own code throughout: nothing of the program is used.
#include <stdexcept>
#include <string>
#include <vector>

namespace structured_text {

struct Refused : std::runtime_error {
  Refused(int line, const std::string& what) : std::runtime_error("line " + std::to_string(line) + ": " + what) {}
};

enum class Word { name, keyword, integer, real, time, sign, end };

struct Token {
  Word word = Word::end;
  std::string text;  // upper case
  double value = 0;  // integer, real; time in milliseconds
  int line = 1;
};

std::vector<Token> cut(const std::string& text);

}  // namespace structured_text
