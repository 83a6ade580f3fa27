// The interpreter of checks/structured_text itself: what a program does, and what must not pass. Expected values by
// hand; the language from memory of IEC 61131-3 (no compiler was at hand to hold it against).
#include <doctest/doctest.h>

#include <cmath>

#include "structured_text/interpreter.h"

using namespace structured_text;

namespace {

double result_of(const std::string& declarations, const std::string& statements, double cycle_ms = 1,
                 int cycles = 1) {
  const Text text("PROGRAM p\n" + declarations + "\n" + statements + "\nEND_PROGRAM");
  Running running(text, "P");
  for (int i = 0; i < cycles; ++i) running.run(cycle_ms);
  return running.at("y");
}

bool refused(const std::string& declarations, const std::string& statements) {
  try {
    result_of(declarations, statements);
  } catch (const Refused&) {
    return true;
  }
  return false;
}

const std::string y_real = "VAR y : LREAL; END_VAR", y_int = "VAR y, i : DINT; END_VAR";

}  // namespace

TEST_CASE("arithmetic: order of operators, whole division, mixed signs") {
  CHECK(result_of(y_real, "y := 2.0 + 3.0 * 4.0 - -1.0;") == 15);
  CHECK(result_of(y_real, "y := (2.0 + 3.0) * 4.0 / 8.0;") == 2.5);
  CHECK(result_of(y_int, "y := -7 / 2;") == -3);
  CHECK(result_of(y_int, "y := -7 MOD 4;") == -3);
  CHECK(result_of("VAR y : BOOL; END_VAR", "y := 1 < 2 AND NOT (3.0 = 4.0) OR FALSE;") == 1);
  CHECK(result_of("VAR y : BOOL; END_VAR", "y := TRUE OR FALSE AND FALSE;") == 1);
  CHECK(result_of(y_real, "y := LIMIT(-1.0, 7.5, 2.0) + MAX(1.0, 2.0) + ABS(-0.5);") == 4.5);
  CHECK(result_of(y_real, "y := 1.5E-3 + DINT_TO_LREAL(2);") == 2.0015);
  CHECK(result_of(y_int, "y := LREAL_TO_DINT(2.5) + LREAL_TO_DINT(3.5) + TRUNC(-1.9);") == 5);
  CHECK(result_of("VAR y : REAL; END_VAR", "y := LREAL_TO_REAL(0.1);") == static_cast<double>(0.1f));
  CHECK(result_of("var Y : lreal; end_var", "y := Sqrt(16.0); (* case does not matter *)") == 4);
}

TEST_CASE("control flow: IF, CASE, FOR, WHILE, EXIT, arrays") {
  CHECK(result_of(y_int, "FOR i := 1 TO 10 DO IF i = 5 THEN EXIT; END_IF; y := y + i; END_FOR;") == 10);
  CHECK(result_of(y_int, "FOR i := 6 TO 1 BY -2 DO y := y + i; END_FOR;") == 12);
  CHECK(result_of(y_int, "WHILE y < 100 DO y := 2 * y + 1; END_WHILE;") == 127);
  CHECK(result_of(y_int, "i := 7; CASE i OF 1, 2: y := 1; 5..8: y := 2; ELSE y := 3; END_CASE;") == 2);
  CHECK(result_of(y_int, "i := 9; CASE i OF 1, 2: y := 1; -3: y := 2; ELSE y := 3; END_CASE;") == 3);
  CHECK(result_of("VAR y, i, j, t : DINT; a : ARRAY [1..5] OF DINT := [4, 5, 1, 3, 2]; END_VAR",
                  "FOR i := 1 TO 4 DO FOR j := 1 TO 5 - i DO IF a[j] > a[j + 1] THEN "
                  "t := a[j]; a[j] := a[j + 1]; a[j + 1] := t; END_IF; END_FOR; END_FOR;"
                  "FOR i := 1 TO 5 DO y := 10 * y + a[i]; END_FOR;") == 12345);
}

TEST_CASE("blocks keep their state apart; edges and delays") {
  const Text text(
      "FUNCTION_BLOCK Count VAR_INPUT up : BOOL; END_VAR VAR_OUTPUT n : DINT := 10; END_VAR VAR edge : R_TRIG; "
      "END_VAR "
      "edge(CLK := up); IF edge.Q THEN n := n + 1; END_IF; END_FUNCTION_BLOCK "
      "PROGRAM P VAR_INPUT x : BOOL; END_VAR VAR y, z : DINT; a, b : Count; late : TON; due : BOOL; END_VAR "
      "a(up := x, n => y); b(up := NOT x, n => z); late(IN := x, PT := T#2.5ms, Q => due); END_PROGRAM");
  Running p(text, "P");
  const bool in[] = {false, true, true, true, true, false, true};
  const double y[] = {10, 11, 11, 11, 11, 11, 12}, z[] = {11, 11, 11, 11, 11, 12, 12}, on[] = {0, 0, 0, 0, 1, 0, 0};
  for (int i = 0; i < 7; ++i) {
    p.at("x") = in[i];
    p.run(1);
    CAPTURE(i);
    CHECK(p.at("y") == y[i]);
    CHECK(p.at("z") == z[i]);
    CHECK(p.at("due") == on[i]);
  }
  CHECK(p.at("a.n") == 12);
}

TEST_CASE("what a compiler would refuse, and what would stop a running controller, is refused") {
  for (const char* wrong : {"y := 1;",
                            "y := TRUE;",
                            "y := z;",
                            "y := 1.0",
                            "y := 1.;",
                            "y := 1E3;",
                            "y := MAX(1.0, 2);",
                            "y = 1.0;",
                            "y := 1.0 + 2;",
                            "IF y THEN END_IF;",
                            "EXIT;",
                            "y := NOT 1.0;",
                            "IF TRUE THEN y := 1.0;",
                            "y := T#5s;",
                            "(* y := 1.0;",
                            "y := 1.0; \xc2\xb5",
                            "y := SQRT(-1.0);",
                            "y := 1.0 / 0.0;",
                            "y := 2.0 ** 3.0;",
                            "1: y := 1.0;"}) {
    CAPTURE(wrong);
    CHECK(refused(y_real, wrong));
  }
  CHECK(refused("VAR y, i : DINT; END_VAR", "y := 1 / i;"));
  CHECK(refused("VAR y : DINT; END_VAR", "y := 2147483647 + 1;"));
  CHECK(refused("VAR y : DINT; a : ARRAY [1..3] OF DINT; END_VAR", "y := a[4];"));
  CHECK(refused("VAR y : DINT; a : ARRAY [1..3] OF DINT := [1, 2]; END_VAR", ";"));
  CHECK(refused("VAR CONSTANT y : DINT := 1; END_VAR", "y := 2;"));
  CHECK(refused("VAR_INPUT y : DINT; END_VAR", "y := 2;"));
  CHECK(refused("VAR y, Y : DINT; END_VAR", ""));
  CHECK(refused("VAR y : DINT; exit : DINT; END_VAR", ""));
  CHECK(refused("VAR y : DINT; a__b : DINT; END_VAR", ""));
  CHECK(refused("VAR y : BOOL; e : R_TRIG; END_VAR", "e(clock := y);"));
  CHECK(refused("VAR y : BOOL; e : R_TRIG; END_VAR", "y := e.M;"));
  CHECK(refused("VAR y : DINT; END_VAR", "WHILE TRUE DO y := 1; END_WHILE;"));
}
