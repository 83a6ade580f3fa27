#pragma once
// Reads a text into blocks: declarations.cpp, statements.cpp, expressions.cpp, by recursive descent. Of this folder
// alone; others see interpreter.h.
#include <algorithm>
#include <memory>
#include <set>
#include <string>
#include <vector>

#include "structured_text/interpreter.h"

namespace structured_text {

bool is_function(const std::string& name);
inline bool is_real(Kind k) { return k == Kind::real || k == Kind::lreal; }

class Parser {
 public:
  Parser(const std::string& text, std::vector<std::unique_ptr<Block>>& blocks)
      : tokens_(cut(text)), blocks_(blocks) {}
  void run();

 private:
  const Token& now(size_t ahead = 0) const { return tokens_[std::min(at_ + ahead, tokens_.size() - 1)]; }
  [[noreturn]] void refuse(const std::string& why) const {
    throw Refused(now().line, why + ", found '" + now().text + "'");
  }
  bool is(const char* text) const { return now().text == text && now().word != Word::name; }
  bool take(const char* text) {
    if (!is(text)) return false;
    ++at_;
    return true;
  }
  void want(const char* text) {
    if (!take(text)) refuse(std::string("'") + text + "' expected");
  }

  // ---- declarations
  std::string new_name();
  const Block* block_named(const std::string& name) const;
  void read_block(const char* end);
  void read_variables(Section section);
  Kind read_kind();
  long whole();
  Variable read_type();
  void read_initial(Variable& v);
  double literal(Kind kind);
  Expression constant();

  // ---- statements
  Body statements(const std::set<std::string>& ends);
  Statement statement();
  Statement read_if();
  Statement read_case();
  Statement read_for();
  Expression condition();
  Statement assign_or_call();
  Statement read_call(const Variable& v);
  void same_kind(const Expression& a, const Expression& b) const;

  // ---- expressions, weakest first: OR, XOR, AND, = <>, < > <= >=, + -, * / MOD, unary, primary
  Expression expression() { return binary(0); }
  static int rank(const Token& t);
  Expression binary(int level);
  Kind kind_of(const std::string& op, int level, const Expression& left, const Expression& right) const;
  Expression unary();
  Expression primary();
  Expression read_function();
  static Expression load(const Variable& v, size_t base);
  // A variable of one's own, or of a block one owns: an output to read, an input to set.
  Expression place(bool assigned);

  std::vector<Token> tokens_;
  std::vector<std::unique_ptr<Block>>& blocks_;
  Block* block_ = nullptr;
  size_t at_ = 0;
  int loops_ = 0;
};

}  // namespace structured_text
