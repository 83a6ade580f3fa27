#include <cmath>

#include "structured_text/parser.h"

namespace structured_text {
namespace {

struct Function {
  const char* name;
  const char* takes;  // one letter an argument: l lreal, d dint, b bool, n any number, s same as the other s
  char gives;         // l, d, r, or s: as its s
};
const Function functions[] = {{"ABS", "s", 's'},           {"SQRT", "l", 'l'},
                              {"EXP", "l", 'l'},           {"LN", "l", 'l'},
                              {"SIN", "l", 'l'},           {"COS", "l", 'l'},
                              {"TAN", "l", 'l'},           {"MIN", "ss", 's'},
                              {"MAX", "ss", 's'},          {"LIMIT", "sss", 's'},
                              {"SEL", "bss", 's'},         {"TRUNC", "l", 'd'},
                              {"DINT_TO_LREAL", "d", 'l'}, {"LREAL_TO_DINT", "l", 'd'},
                              {"REAL_TO_LREAL", "r", 'l'}, {"LREAL_TO_REAL", "l", 'r'}};

const Function* function(const std::string& name) {
  for (const Function& f : functions)
    if (name == f.name) return &f;
  return nullptr;
}

}  // namespace

bool is_function(const std::string& name) { return function(name) != nullptr; }

int Parser::rank(const Token& t) {
  if (t.word == Word::name) return -1;
  const std::string& s = t.text;
  if (s == "OR") return 0;
  if (s == "XOR") return 1;
  if (s == "AND" || s == "&") return 2;
  if (s == "=" || s == "<>") return 3;
  if (s == "<" || s == ">" || s == "<=" || s == ">=") return 4;
  if (s == "+" || s == "-") return 5;
  if (s == "*" || s == "/" || s == "MOD") return 6;
  return -1;
}

Expression Parser::binary(int level) {
  if (level == 7) return unary();
  Expression left = binary(level + 1);
  while (rank(now()) == level) {
    Expression e{.line = now().line};
    e.op = now().text == "&" ? "AND" : now().text;
    ++at_;
    Expression right = binary(level + 1);
    e.kind = kind_of(e.op, level, left, right);
    e.parts = {std::move(left), std::move(right)};
    left = std::move(e);
  }
  return left;
}

Kind Parser::kind_of(const std::string& op, int level, const Expression& left, const Expression& right) const {
  const Kind k = left.kind;
  if (left.size != 1 || right.size != 1) refuse("an array takes no operator, before this");
  if (k != right.kind) refuse("types differ on both sides of " + op + ", before this");
  if (level <= 2 && k != Kind::boolean) refuse(op + " wants BOOL, before this");
  if (level >= 4 && k == Kind::boolean) refuse(op + " takes no BOOL, before this");
  if (k == Kind::time && level == 6) refuse("no " + op + " of times, before this");
  if (op == "MOD" && k != Kind::dint) refuse("MOD wants DINT, before this");
  return level >= 5 ? k : Kind::boolean;
}

Expression Parser::unary() {
  Expression e{.line = now().line};
  if (take("-")) {
    Expression of = primary();
    if (of.kind == Kind::boolean || of.kind == Kind::time || of.size != 1) refuse("no minus before this");
    if (of.op == "constant") return of.value = -of.value, of;
    e.op = "negate", e.kind = of.kind, e.parts = {std::move(of)};
    return e;
  }
  if (take("NOT")) {
    Expression of = primary();
    if (of.kind != Kind::boolean) refuse("NOT wants BOOL, before this");
    e.op = "NOT", e.kind = Kind::boolean, e.parts = {std::move(of)};
    return e;
  }
  return primary();
}

Expression Parser::primary() {
  if (take("(")) {
    Expression e = expression();
    want(")");
    return e;
  }
  if (now().word != Word::name) return constant();
  return function(now().text) ? read_function() : place(false);
}

Expression Parser::read_function() {
  const Function& f = *function(now().text);
  Expression e{.op = f.name, .line = now().line};
  ++at_;
  want("(");
  Kind same = Kind::lreal;
  bool same_known = false;
  for (const char* p = f.takes; *p; ++p) {
    if (p != f.takes) want(",");
    Expression given = expression();
    const Kind wanted = *p == 'l'    ? Kind::lreal
                        : *p == 'r'  ? Kind::real
                        : *p == 'd'  ? Kind::dint
                        : *p == 'b'  ? Kind::boolean
                        : same_known ? same
                                     : given.kind;
    if (given.kind != wanted || given.size != 1) refuse(std::string(f.name) + ": another type expected before this");
    if (*p == 's') same = wanted, same_known = true;
    e.parts.push_back(std::move(given));
  }
  want(")");
  if (same_known && same == Kind::boolean && e.op != "SEL") refuse(e.op + " takes no BOOL");
  e.kind = f.gives == 's' ? same : f.gives == 'l' ? Kind::lreal : f.gives == 'r' ? Kind::real : Kind::dint;
  return e;
}

Expression Parser::load(const Variable& v, size_t base) {
  Expression e{.op = v.array ? "array" : "load", .kind = v.kind, .offset = base + v.offset, .size = v.size};
  e.low = v.low, e.high = v.high;
  return e;
}

// A variable of one's own, or of a block one owns: an output to read, an input to set.
Expression Parser::place(bool assigned) {
  if (now().word != Word::name) refuse("a variable expected");
  const int line = now().line;
  const Variable* v = block_->find(now().text);
  if (!v) refuse("not declared");
  ++at_;
  size_t base = 0;
  bool inside = false;
  while (v->block && take(".")) {
    base += v->offset;
    const Variable* inner = v->block->find(now().text);
    if (!inner || inner->section == Section::own || inner->section == Section::constant)
      refuse("an input or output of the block expected");
    v = inner, inside = true;
    ++at_;
  }
  if (v->block) refuse("a block is no value, before this");
  if (assigned && (v->section == Section::constant || (v->section == Section::input && !inside) ||
                   (v->section == Section::output && inside)))
    throw Refused(line, v->name + " is not to be assigned to");
  Expression e = load(*v, base);
  e.line = line;
  if (v->array && take("[")) {
    e.op = "load", e.indexed = true, e.size = 1;
    e.parts.push_back(expression());
    if (e.parts[0].kind != Kind::dint) refuse("an index is a DINT");
    want("]");
  }
  return e;
}

}  // namespace structured_text
