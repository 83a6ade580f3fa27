#include "structured_text/lexer.h"

#include <cctype>
#include <cmath>
#include <cstdlib>
#include <iterator>
#include <set>
#include <sstream>

namespace structured_text {
namespace {

// Words that a variable may not be called: keywords, types, operators also of the instruction list, standard names.
const std::set<std::string>& keywords() {
  static const char* const words =
      "PROGRAM END_PROGRAM FUNCTION_BLOCK END_FUNCTION_BLOCK FUNCTION END_FUNCTION VAR VAR_INPUT VAR_OUTPUT "
      "VAR_IN_OUT VAR_EXTERNAL VAR_GLOBAL VAR_TEMP END_VAR CONSTANT RETAIN AT BOOL SINT INT DINT LINT USINT "
      "UINT UDINT ULINT BYTE WORD DWORD LWORD REAL LREAL TIME DATE STRING WSTRING ARRAY OF STRUCT END_STRUCT "
      "TYPE END_TYPE IF THEN ELSIF ELSE END_IF CASE END_CASE FOR TO BY DO END_FOR WHILE END_WHILE REPEAT UNTIL "
      "END_REPEAT EXIT RETURN TRUE FALSE AND OR XOR NOT MOD TASK WITH ON EN ENO LD ST S R JMP CAL RET ADD SUB "
      "MUL DIV GT GE EQ NE LE LT ANDN ORN XORN LDN STN ACTION END_ACTION STEP END_STEP TRANSITION "
      "END_TRANSITION RESOURCE CONFIGURATION F_EDGE R_EDGE READ_ONLY READ_WRITE";
  static const std::set<std::string> all = [] {
    std::istringstream from(words);
    return std::set<std::string>(std::istream_iterator<std::string>(from), {});
  }();
  return all;
}

class Cutter {
 public:
  explicit Cutter(const std::string& text) : text_(text) {}

  std::vector<Token> run() {
    while (skip_blank()) {
      const char c = text_[at_];
      if (std::isalpha(static_cast<unsigned char>(c)) || c == '_')
        word();
      else if (std::isdigit(static_cast<unsigned char>(c)))
        number();
      else
        sign();
    }
    out_.push_back({Word::end, "end of text", 0, line_});
    return out_;
  }

 private:
  char peek(size_t ahead = 0) const { return at_ + ahead < text_.size() ? text_[at_ + ahead] : '\0'; }

  bool skip_blank() {
    while (at_ < text_.size()) {
      const char c = text_[at_];
      if (static_cast<unsigned char>(c) > 126 || (c < 32 && c != '\n' && c != '\r' && c != '\t'))
        throw Refused(line_, "a letter that is not printable ASCII");
      if (c == '(' && peek(1) == '*') {
        comment();
      } else if (c == '\n') {
        ++line_, ++at_;
      } else if (std::isspace(static_cast<unsigned char>(c))) {
        ++at_;
      } else {
        return true;
      }
    }
    return false;
  }

  void comment() {
    const int begun = line_;
    for (at_ += 2; !(peek() == '*' && peek(1) == ')'); ++at_) {
      if (at_ >= text_.size()) throw Refused(begun, "a comment without end");
      if (static_cast<unsigned char>(peek()) > 126) throw Refused(line_, "a letter that is not ASCII");
      if (peek() == '(' && peek(1) == '*') throw Refused(line_, "a comment in a comment");
      line_ += peek() == '\n';
    }
    at_ += 2;
  }

  void word() {
    std::string name;
    while (std::isalnum(static_cast<unsigned char>(peek())) || peek() == '_')
      name += static_cast<char>(std::toupper(static_cast<unsigned char>(text_[at_++])));
    if ((name == "T" || name == "TIME") && peek() == '#') return time();
    if (name.find("__") != std::string::npos || name.back() == '_')
      throw Refused(line_, "two underscores together or one at the end: " + name);
    out_.push_back({keywords().count(name) ? Word::keyword : Word::name, name, 0, line_});
  }

  std::string digits() {
    std::string d;
    while (std::isdigit(static_cast<unsigned char>(peek()))) d += text_[at_++];
    return d;
  }

  void number() {
    std::string n = digits();
    Word kind = Word::integer;
    if (peek() == '.' && peek(1) != '.') {
      kind = Word::real;
      ++at_;
      const std::string after = digits();
      if (after.empty()) throw Refused(line_, "a real number without a digit after the point");
      n += "." + after;
    }
    if (peek() == 'E' || peek() == 'e') {
      if (kind == Word::integer) throw Refused(line_, "an exponent without a decimal point");
      n += text_[at_++];
      if (peek() == '+' || peek() == '-') n += text_[at_++];
      const std::string power = digits();
      if (power.empty()) throw Refused(line_, "an exponent without digits");
      n += power;
    }
    if (std::isalpha(static_cast<unsigned char>(peek())) || peek() == '_')
      throw Refused(line_, "a number that runs into a word");
    const double value = std::strtod(n.c_str(), nullptr);
    if (!std::isfinite(value)) throw Refused(line_, "a number too large");
    out_.push_back({kind, n, value, line_});
  }

  // T#1m2.5s, T#40ms: units fall, and only the last part may carry a point.
  void time() {
    ++at_;
    double total = 0, largest = 1e300;
    do {
      std::string n = digits();
      if (peek() == '.') n += text_[at_++], n += digits();
      std::string unit;
      while (std::isalpha(static_cast<unsigned char>(peek())))
        unit += static_cast<char>(std::toupper(static_cast<unsigned char>(text_[at_++])));
      const double ms = unit == "D"    ? 86400e3
                        : unit == "H"  ? 3600e3
                        : unit == "M"  ? 60e3
                        : unit == "S"  ? 1e3
                        : unit == "MS" ? 1
                                       : 0;
      if (n.empty() || ms == 0 || ms >= largest) throw Refused(line_, "a time that is not understood");
      largest = ms;
      total += ms * std::strtod(n.c_str(), nullptr);
    } while (std::isdigit(static_cast<unsigned char>(peek())));
    out_.push_back({Word::time, "T#", total, line_});
  }

  void sign() {
    static const char* two[] = {":=", "=>", "<=", ">=", "<>", "..", "**"};
    for (const char* s : two)
      if (peek() == s[0] && peek(1) == s[1]) {
        at_ += 2;
        out_.push_back({Word::sign, s, 0, line_});
        return;
      }
    static const std::string one = "+-*/=<>()[],;:.&";
    if (one.find(peek()) == std::string::npos) throw Refused(line_, std::string("a sign not known: ") + peek());
    out_.push_back({Word::sign, std::string(1, text_[at_++]), 0, line_});
  }

  const std::string& text_;
  size_t at_ = 0;
  int line_ = 1;
  std::vector<Token> out_;
};

}  // namespace

std::vector<Token> cut(const std::string& text) { return Cutter(text).run(); }

}  // namespace structured_text
