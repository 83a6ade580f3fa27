#include <algorithm>
#include <cctype>
#include <cmath>
#include <set>

#include "structured_text/interpreter.h"

namespace structured_text {
namespace {

std::string upper(std::string text) {
  for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

bool is_real(Kind k) { return k == Kind::real || k == Kind::lreal; }

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

class Parser {
 public:
  Parser(const std::string& text, std::vector<std::unique_ptr<Block>>& blocks)
      : tokens_(cut(text)), blocks_(blocks) {}

  void run() {
    while (now().word != Word::end) {
      const bool program = now().text == "PROGRAM";
      if (!program && now().text != "FUNCTION_BLOCK") refuse("PROGRAM or FUNCTION_BLOCK expected");
      ++at_;
      read_block(program ? "END_PROGRAM" : "END_FUNCTION_BLOCK");
    }
  }

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
  std::string new_name() {
    if (now().word != Word::name || function(now().text)) refuse("a free name expected");
    return tokens_[at_++].text;
  }
  const Block* block_named(const std::string& name) const {
    for (const auto& b : blocks_)
      if (b->name == name) return b.get();
    return nullptr;
  }

  void read_block(const char* end) {
    auto made = std::make_unique<Block>();
    made->name = new_name();
    if (block_named(made->name)) refuse("this name is taken");
    block_ = made.get();
    for (;;) {
      if (take("VAR_INPUT"))
        read_variables(Section::input);
      else if (take("VAR_OUTPUT"))
        read_variables(Section::output);
      else if (take("VAR"))
        read_variables(take("CONSTANT") ? Section::constant : Section::own);
      else
        break;
    }
    made->body = statements({end});
    want(end);
    blocks_.push_back(std::move(made));
  }

  void read_variables(Section section) {
    while (!take("END_VAR")) {
      std::vector<std::string> names{new_name()};
      while (take(",")) names.push_back(new_name());
      want(":");
      Variable v = read_type();
      v.section = section;
      if (take(":="))
        read_initial(v);
      else if (section == Section::constant)
        refuse("a constant needs its value");
      want(";");
      for (const std::string& name : names) {
        if (block_->find(name)) throw Refused(now().line, name + " is declared twice");
        v.name = name;
        v.offset = block_->size;
        block_->size += v.size;
        block_->variables.push_back(v);
      }
    }
  }

  Kind read_kind() {
    if (take("BOOL")) return Kind::boolean;
    if (take("DINT")) return Kind::dint;
    if (take("TIME")) return Kind::time;
    if (take("REAL")) return Kind::real;
    if (take("LREAL")) return Kind::lreal;
    refuse("a type expected");
  }

  long whole() {
    const bool minus = take("-");
    if (now().word != Word::integer) refuse("a whole number expected");
    return (minus ? -1 : 1) * static_cast<long>(tokens_[at_++].value);
  }

  Variable read_type() {
    Variable v;
    if (take("ARRAY")) {
      v.array = true;
      want("["), v.low = whole(), want(".."), v.high = whole(), want("]"), want("OF");
      if (v.high < v.low) refuse("an array that ends before it begins");
      v.size = static_cast<size_t>(v.high - v.low + 1);
      v.kind = read_kind();
    } else if (now().word == Word::name) {
      v.block = block_named(now().text);
      if (!v.block) refuse("a type or a block declared before expected");
      ++at_;
      v.size = v.block->size;
      for (const Variable& inner : v.block->variables)
        v.initial.insert(v.initial.end(), inner.initial.begin(), inner.initial.end());
    } else {
      v.kind = read_kind();
    }
    if (v.initial.empty()) v.initial.assign(v.size, 0.0);
    return v;
  }

  void read_initial(Variable& v) {
    if (v.block) refuse("a block takes no initial value here");
    if (!v.array) {
      v.initial[0] = literal(v.kind);
      return;
    }
    want("[");
    size_t i = 0;
    do {
      if (i >= v.size) refuse("more initial values than places");
      v.initial[i++] = literal(v.kind);
    } while (take(","));
    want("]");
    if (i != v.size) refuse("fewer initial values than places");
  }

  double literal(Kind kind) {
    const bool minus = take("-");
    const Expression e = constant();
    if (e.kind != kind && !(is_real(e.kind) && is_real(kind))) refuse("a value of the variable's type expected");
    if (minus && kind == Kind::boolean) refuse("no minus before a BOOL");
    return (minus ? -1 : 1) * (kind == Kind::real ? static_cast<double>(static_cast<float>(e.value)) : e.value);
  }

  Expression constant() {
    Expression e{.op = "constant", .line = now().line};
    if (take("TRUE")) return e.kind = Kind::boolean, e.value = 1, e;
    if (take("FALSE")) return e.kind = Kind::boolean, e;
    if (now().word == Word::integer)
      e.kind = Kind::dint;
    else if (now().word == Word::time)
      e.kind = Kind::time;
    else if (now().word != Word::real)
      refuse("a value expected");
    e.value = tokens_[at_++].value;
    return e;
  }

  // ---- statements
  Body statements(const std::set<std::string>& ends) {
    Body body;
    while (!(now().word == Word::keyword && ends.count(now().text))) {
      if (now().word == Word::end) refuse("the text ends within a block");
      if (now().word == Word::integer || (is("-") && ends.count("END_CASE"))) break;  // the next label
      body.push_back(statement());
    }
    return body;
  }

  Statement statement() {
    using What = Statement::What;
    const int line = now().line;
    Statement s{.line = line};
    if (take("IF"))
      s = read_if();
    else if (take("CASE"))
      s = read_case();
    else if (take("FOR"))
      s = read_for();
    else if (take("WHILE")) {
      s.what = What::loop;
      s.value = condition();
      want("DO");
      ++loops_;
      s.otherwise = statements({"END_WHILE"});
      --loops_;
      want("END_WHILE");
    } else if (take("EXIT")) {
      if (loops_ == 0) refuse("EXIT outside a loop");
      s.what = What::leave;
    } else if (take("RETURN")) {
      s.what = What::give_back;
    } else {
      s = assign_or_call();
    }
    s.line = line;
    want(";");
    return s;
  }

  Statement read_if() {
    Statement s{.what = Statement::What::branch};
    do {
      Branch b{.when = condition()};
      want("THEN");
      b.body = statements({"ELSIF", "ELSE", "END_IF"});
      s.branches.push_back(std::move(b));
    } while (take("ELSIF"));
    if (take("ELSE")) s.otherwise = statements({"END_IF"});
    want("END_IF");
    return s;
  }

  Statement read_case() {
    Statement s{.what = Statement::What::pick};
    s.value = expression();
    if (s.value.kind != Kind::dint) refuse("CASE wants a DINT");
    want("OF");
    std::set<long> seen;
    while (!is("ELSE") && !is("END_CASE")) {
      Branch b;
      do {
        const long from = whole(), to = take("..") ? whole() : from;
        for (long i = from; i <= to; ++i)
          if (!seen.insert(i).second) refuse("a label used twice");
        b.labels.emplace_back(from, to);
      } while (take(","));
      want(":");
      b.body = statements({"ELSE", "END_CASE"});
      s.branches.push_back(std::move(b));
    }
    if (take("ELSE")) s.otherwise = statements({"END_CASE"});
    want("END_CASE");
    return s;
  }

  Statement read_for() {
    Statement s{.what = Statement::What::count};
    s.target = place(true);
    want(":=");
    s.value = expression();
    want("TO");
    s.to = expression();
    s.by = Expression{.op = "constant", .kind = Kind::dint, .value = 1};
    if (take("BY")) s.by = expression();
    for (const Expression* e : {&s.target, &s.value, &s.to, &s.by})
      if (e->kind != Kind::dint) refuse("FOR counts in DINT");
    want("DO");
    ++loops_;
    s.otherwise = statements({"END_FOR"});
    --loops_;
    want("END_FOR");
    return s;
  }

  Expression condition() {
    Expression e = expression();
    if (e.kind != Kind::boolean) refuse("a BOOL expected");
    return e;
  }

  Statement assign_or_call() {
    if (now().word != Word::name) refuse("a statement expected");
    const Variable* v = block_->find(now().text);
    if (v && v->block && now(1).text == "(") return read_call(*v);
    Statement s;
    s.target = place(true);
    want(":=");
    s.value = expression();
    same_kind(s.target, s.value);
    return s;
  }

  Statement read_call(const Variable& v) {
    Statement s{.what = Statement::What::call};
    s.block = v.block, s.offset = v.offset;
    ++at_;
    want("(");
    std::set<std::string> given;
    while (!take(")")) {
      if (!given.empty()) want(",");
      const Variable* parameter = v.block->find(now().text);
      if (!parameter || !given.insert(now().text).second) refuse("an input or output of the block expected, once");
      ++at_;
      Expression inner = load(*parameter, v.offset);
      if (take(":=")) {
        if (parameter->section != Section::input) refuse("only inputs are given with :=");
        s.inputs.emplace_back(inner, expression());
        same_kind(inner, s.inputs.back().second);
      } else {
        want("=>");
        if (parameter->section != Section::output) refuse("only outputs are taken with =>");
        s.outputs.emplace_back(place(true), inner);
        same_kind(s.outputs.back().first, inner);
      }
    }
    return s;
  }

  void same_kind(const Expression& a, const Expression& b) const {
    if (a.kind != b.kind || a.size != b.size) refuse("types differ before this");
  }

  // ---- expressions, weakest first: OR, XOR, AND, = <>, < > <= >=, + -, * / MOD, unary, primary
  Expression expression() { return binary(0); }

  static int rank(const Token& t) {
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

  Expression binary(int level) {
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

  Kind kind_of(const std::string& op, int level, const Expression& left, const Expression& right) const {
    const Kind k = left.kind;
    if (left.size != 1 || right.size != 1) refuse("an array takes no operator, before this");
    if (k != right.kind) refuse("types differ on both sides of " + op + ", before this");
    if (level <= 2 && k != Kind::boolean) refuse(op + " wants BOOL, before this");
    if (level >= 4 && k == Kind::boolean) refuse(op + " takes no BOOL, before this");
    if (k == Kind::time && level == 6) refuse("no " + op + " of times, before this");
    if (op == "MOD" && k != Kind::dint) refuse("MOD wants DINT, before this");
    return level >= 5 ? k : Kind::boolean;
  }

  Expression unary() {
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

  Expression primary() {
    if (take("(")) {
      Expression e = expression();
      want(")");
      return e;
    }
    if (now().word != Word::name) return constant();
    return function(now().text) ? read_function() : place(false);
  }

  Expression read_function() {
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
      if (given.kind != wanted || given.size != 1)
        refuse(std::string(f.name) + ": another type expected before this");
      if (*p == 's') same = wanted, same_known = true;
      e.parts.push_back(std::move(given));
    }
    want(")");
    if (same_known && same == Kind::boolean && e.op != "SEL") refuse(e.op + " takes no BOOL");
    e.kind = f.gives == 's' ? same : f.gives == 'l' ? Kind::lreal : f.gives == 'r' ? Kind::real : Kind::dint;
    return e;
  }

  static Expression load(const Variable& v, size_t base) {
    Expression e{.op = v.array ? "array" : "load", .kind = v.kind, .offset = base + v.offset, .size = v.size};
    e.low = v.low, e.high = v.high;
    return e;
  }

  // A variable of one's own, or of a block one owns: an output to read, an input to set.
  Expression place(bool assigned) {
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

  std::vector<Token> tokens_;
  std::vector<std::unique_ptr<Block>>& blocks_;
  Block* block_ = nullptr;
  size_t at_ = 0;
  int loops_ = 0;
};

std::unique_ptr<Block> standard_block(const char* name, Native native,
                                      std::vector<std::tuple<const char*, Section, Kind>> variables) {
  auto block = std::make_unique<Block>();
  block->name = name, block->native = native;
  for (const auto& [variable, section, kind] : variables) {
    Variable v{.name = variable, .section = section, .kind = kind};
    v.offset = block->size++;
    v.initial = {0};
    block->variables.push_back(v);
  }
  return block;
}

}  // namespace

const Variable* Block::find(const std::string& upper_name) const {
  for (const Variable& v : variables)
    if (v.name == upper_name) return &v;
  return nullptr;
}

Text::Text(const std::string& text) {
  using S = Section;
  for (const auto& [name, native] : {std::pair{"R_TRIG", Native::rising}, std::pair{"F_TRIG", Native::falling}})
    blocks_.push_back(standard_block(
        name, native,
        {{"CLK", S::input, Kind::boolean}, {"Q", S::output, Kind::boolean}, {"M", S::own, Kind::boolean}}));
  blocks_.push_back(standard_block("TON", Native::on_delay,
                                   {{"IN", S::input, Kind::boolean},
                                    {"PT", S::input, Kind::time},
                                    {"Q", S::output, Kind::boolean},
                                    {"ET", S::output, Kind::time},
                                    {"SINCE", S::own, Kind::time},
                                    {"BEFORE", S::own, Kind::boolean}}));
  Parser(text, blocks_).run();
}

const Block& Text::block(const std::string& name) const {
  for (const auto& b : blocks_)
    if (b->name == upper(name)) return *b;
  throw Refused(0, "no block of the name " + name);
}

Running::Running(const Text& text, const std::string& block) : block_(text.block(block)) {
  for (const Variable& v : block_.variables) cells_.insert(cells_.end(), v.initial.begin(), v.initial.end());
}

double& Running::at(const std::string& name) {
  const Block* block = &block_;
  size_t base = 0, from = 0;
  for (;;) {
    const size_t dot = name.find('.', from);
    const Variable* v = block->find(upper(name.substr(from, dot - from)));
    if (!v) throw Refused(0, "no variable " + name);
    base += v->offset;
    if (dot == std::string::npos) return cells_[base];
    block = v->block, from = dot + 1;
    if (!block) throw Refused(0, "no block in " + name);
  }
}

}  // namespace structured_text
