#pragma once
// A second reader of the structured text that this project writes: it runs what a controller would run. Subset of
// IEC 61131-3: PROGRAM and FUNCTION_BLOCK with VAR, VAR_INPUT, VAR_OUTPUT, VAR CONSTANT; BOOL, DINT, REAL, LREAL,
// TIME and arrays of them with initial values; assignment, IF, CASE, FOR, WHILE, EXIT, RETURN, calls of blocks;
// R_TRIG, F_TRIG, TON; ABS, SQRT, EXP, LN, SIN, COS, TAN, MIN, MAX, LIMIT, SEL, TRUNC, DINT_TO_LREAL, LREAL_TO_DINT,
// REAL_TO_LREAL, LREAL_TO_REAL. Strict where compilers differ: nothing is converted silently, a constant or an input
// of one's own block is not assigned to, each name is declared before it is used, indices and numbers stay in range,
// no number is infinite. From memory of the standard's text; no compiler was at hand to hold it against.
//
// Everything of a program lies in one row of numbers: variables one after the other, a block's within its owner's.
#include <cstddef>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "structured_text/lexer.h"

namespace structured_text {

enum class Kind { boolean, dint, time, real, lreal };
enum class Section { input, output, own, constant };
enum class Native { none, rising, falling, on_delay };

struct Block;
struct Variable {
  std::string name;
  Section section = Section::own;
  Kind kind = Kind::lreal;
  bool array = false;
  long low = 0, high = 0;
  const Block* block = nullptr;  // an instance of it
  size_t offset = 0, size = 1;
  std::vector<double> initial;
};

struct Expression {
  std::string op;  // "constant", "load", "array", an operator, or a function's name
  Kind kind = Kind::lreal;
  double value = 0;
  size_t offset = 0, size = 1;
  bool indexed = false;
  long low = 0, high = 0;
  std::vector<Expression> parts;  // of indexed loads: the index
  int line = 0;
};

struct Statement;
using Body = std::vector<Statement>;
struct Branch {
  Expression when;                            // of IF
  std::vector<std::pair<long, long>> labels;  // of CASE
  Body body;
};
struct Statement {
  enum class What { assign, branch, pick, count, loop, call, leave, give_back } what = What::assign;
  Expression target, value, to, by;  // count: target runs from value to `to` by `by`
  std::vector<Branch> branches;
  Body otherwise;
  const Block* block = nullptr;
  size_t offset = 0;
  std::vector<std::pair<Expression, Expression>> inputs, outputs;  // target, value
  int line = 0;
};

struct Block {
  std::string name;
  Native native = Native::none;
  std::vector<Variable> variables;
  size_t size = 0;
  Body body;
  const Variable* find(const std::string& upper) const;
};

// A text read whole. Throws Refused.
class Text {
 public:
  explicit Text(const std::string& text);
  const Block& block(const std::string& name) const;  // upper or lower case

 private:
  std::vector<std::unique_ptr<Block>> blocks_;
};

// One running instance. `run` is one cycle of the task; time moves only by it.
class Running {
 public:
  Running(const Text& text, const std::string& block);
  double& at(const std::string& name);  // "ForceA", "Mean.Integral"; arrays: their first number
  void run(double cycle_ms);

 private:
  const Block& block_;
  std::vector<double> cells_;
  double now_ms_ = 0;
};

}  // namespace structured_text
