#include <cctype>
#include <cmath>

#include "structured_text/parser.h"

namespace structured_text {

void Parser::run() {
  while (now().word != Word::end) {
    const bool program = now().text == "PROGRAM";
    if (!program && now().text != "FUNCTION_BLOCK") refuse("PROGRAM or FUNCTION_BLOCK expected");
    ++at_;
    read_block(program ? "END_PROGRAM" : "END_FUNCTION_BLOCK");
  }
}

std::string Parser::new_name() {
  if (now().word != Word::name || is_function(now().text)) refuse("a free name expected");
  return tokens_[at_++].text;
}

const Block* Parser::block_named(const std::string& name) const {
  for (const auto& b : blocks_)
    if (b->name == name) return b.get();
  return nullptr;
}

void Parser::read_block(const char* end) {
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

void Parser::read_variables(Section section) {
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

Kind Parser::read_kind() {
  if (take("BOOL")) return Kind::boolean;
  if (take("DINT")) return Kind::dint;
  if (take("TIME")) return Kind::time;
  if (take("REAL")) return Kind::real;
  if (take("LREAL")) return Kind::lreal;
  refuse("a type expected");
}

long Parser::whole() {
  const bool minus = take("-");
  if (now().word != Word::integer) refuse("a whole number expected");
  return (minus ? -1 : 1) * static_cast<long>(tokens_[at_++].value);
}

Variable Parser::read_type() {
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

void Parser::read_initial(Variable& v) {
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

double Parser::literal(Kind kind) {
  const bool minus = take("-");
  const Expression e = constant();
  if (e.kind != kind && !(is_real(e.kind) && is_real(kind))) refuse("a value of the variable's type expected");
  if (minus && kind == Kind::boolean) refuse("no minus before a BOOL");
  return (minus ? -1 : 1) * (kind == Kind::real ? static_cast<double>(static_cast<float>(e.value)) : e.value);
}

Expression Parser::constant() {
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

}  // namespace structured_text
