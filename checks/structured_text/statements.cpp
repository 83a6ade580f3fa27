#include <cmath>

#include "structured_text/parser.h"

namespace structured_text {

Body Parser::statements(const std::set<std::string>& ends) {
  Body body;
  while (!(now().word == Word::keyword && ends.count(now().text))) {
    if (now().word == Word::end) refuse("the text ends within a block");
    if (now().word == Word::integer || (is("-") && ends.count("END_CASE"))) break;  // the next label
    body.push_back(statement());
  }
  return body;
}

Statement Parser::statement() {
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

Statement Parser::read_if() {
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

Statement Parser::read_case() {
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

Statement Parser::read_for() {
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

Expression Parser::condition() {
  Expression e = expression();
  if (e.kind != Kind::boolean) refuse("a BOOL expected");
  return e;
}

Statement Parser::assign_or_call() {
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

Statement Parser::read_call(const Variable& v) {
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

void Parser::same_kind(const Expression& a, const Expression& b) const {
  if (a.kind != b.kind || a.size != b.size) refuse("types differ before this");
}

}  // namespace structured_text
