#include <algorithm>
#include <cmath>

#include "structured_text/interpreter.h"

namespace structured_text {
namespace {

enum class End { normal, leave, give_back };

class Machine {
 public:
  Machine(std::vector<double>& cells, double now_ms) : cells_(cells), now_ms_(now_ms) {}

  End run(const Body& body, size_t base) {
    for (const Statement& s : body)
      if (const End end = run(s, base); end != End::normal) return end;
    return End::normal;
  }

  void run(const Block& block, size_t base) {
    if (block.native == Native::none)
      run(block.body, base);
    else
      run_native(block.native, base);
  }

 private:
  End run(const Statement& s, size_t base) {
    using What = Statement::What;
    switch (s.what) {
      case What::assign:
        assign(s.target, s.value, base);
        return End::normal;
      case What::branch:
        for (const Branch& b : s.branches)
          if (value(b.when, base) != 0) return run(b.body, base);
        return run(s.otherwise, base);
      case What::pick:
        return pick(s, base);
      case What::count:
        return count(s, base);
      case What::loop:
        for (long turns = 0; value(s.value, base) != 0; ++turns) {
          if (turns > 1000000) throw Refused(s.line, "a loop without end");
          const End end = run(s.otherwise, base);
          if (end == End::leave) break;
          if (end == End::give_back) return end;
        }
        return End::normal;
      case What::call:
        for (const auto& [target, given] : s.inputs) assign(target, given, base);
        run(*s.block, base + s.offset);
        for (const auto& [target, taken] : s.outputs) assign(target, taken, base);
        return End::normal;
      case What::leave:
        return End::leave;
      case What::give_back:
        return End::give_back;
    }
    return End::normal;
  }

  End pick(const Statement& s, size_t base) {
    const double v = value(s.value, base);
    for (const Branch& b : s.branches)
      for (const auto& [low, high] : b.labels)
        if (v >= static_cast<double>(low) && v <= static_cast<double>(high)) return run(b.body, base);
    return run(s.otherwise, base);
  }

  End count(const Statement& s, size_t base) {
    const double from = value(s.value, base), to = value(s.to, base), by = value(s.by, base);
    if (by == 0) throw Refused(s.line, "FOR without a step");
    for (double i = from; by > 0 ? i <= to : i >= to; i += by) {
      cell(s.target, base) = i;
      const End end = run(s.otherwise, base);
      if (end == End::leave) break;
      if (end == End::give_back) return end;
    }
    return End::normal;
  }

  double& cell(const Expression& e, size_t base) {
    if (!e.indexed) return cells_[base + e.offset];
    const double i = value(e.parts[0], base);
    if (i < static_cast<double>(e.low) || i > static_cast<double>(e.high))
      throw Refused(e.line, "index " + std::to_string(static_cast<long>(i)) + " out of range");
    return cells_[base + e.offset + static_cast<size_t>(static_cast<long>(i) - e.low)];
  }

  void assign(const Expression& target, const Expression& from, size_t base) {
    if (from.op == "array") {
      std::copy_n(cells_.begin() + static_cast<long>(base + from.offset), from.size,
                  cells_.begin() + static_cast<long>(base + target.offset));
      return;
    }
    const double v = value(from, base);
    cell(target, base) = v;
  }

  // A number fit for its type.
  static double fit(Kind kind, double v, int line) {
    if (!std::isfinite(v)) throw Refused(line, "a number that is not finite");
    if (kind == Kind::real) return static_cast<double>(static_cast<float>(v));
    if (kind == Kind::dint && (v < -2147483648.0 || v > 2147483647.0)) throw Refused(line, "a DINT out of range");
    return v;
  }

  double value(const Expression& e, size_t base) {
    if (e.op == "constant") return e.value;
    if (e.op == "load") return cell(e, base);
    const double a = value(e.parts[0], base);
    if (e.op == "AND") return a != 0 && value(e.parts[1], base) != 0;
    if (e.op == "OR") return a != 0 || value(e.parts[1], base) != 0;
    if (e.parts.size() == 1) return fit(e.kind, one(e, a), e.line);
    const double b = value(e.parts[1], base);
    if (e.parts.size() == 2) return fit(e.kind, two(e, a, b), e.line);
    const double c = value(e.parts[2], base);
    if (e.op == "SEL") return a != 0 ? c : b;
    return std::min(std::max(a, b), c);  // LIMIT(low, in, high)
  }

  static double one(const Expression& e, double a) {
    if (e.op == "negate") return -a;
    if (e.op == "NOT") return a == 0;
    if (e.op == "ABS") return std::abs(a);
    if (e.op == "SQRT") return std::sqrt(a);
    if (e.op == "EXP") return std::exp(a);
    if (e.op == "LN") return std::log(a);
    if (e.op == "SIN") return std::sin(a);
    if (e.op == "COS") return std::cos(a);
    if (e.op == "TAN") return std::tan(a);
    if (e.op == "TRUNC") return std::trunc(a);
    if (e.op == "LREAL_TO_DINT") return std::nearbyint(a);  // to the nearest, halves to even
    return a;                                               // the other conversions
  }

  static double two(const Expression& e, double a, double b) {
    const std::string& op = e.op;
    const bool whole = e.kind == Kind::dint;
    if (op == "+") return a + b;
    if (op == "-") return a - b;
    if (op == "*") return a * b;
    if (op == "/") {
      if (b == 0) throw Refused(e.line, "division by zero");
      return whole ? std::trunc(a / b) : a / b;
    }
    if (op == "MOD") return b == 0 ? 0 : std::fmod(a, b);
    if (op == "=") return a == b;
    if (op == "<>") return a != b;
    if (op == "<") return a < b;
    if (op == ">") return a > b;
    if (op == "<=") return a <= b;
    if (op == ">=") return a >= b;
    if (op == "XOR") return (a != 0) != (b != 0);
    if (op == "MIN") return std::min(a, b);
    return std::max(a, b);
  }

  void run_native(Native native, size_t base) {
    double* c = &cells_[base];
    if (native == Native::on_delay) {  // IN, PT, Q, ET, SINCE, BEFORE
      if (c[0] != 0 && c[5] == 0) c[4] = now_ms_;
      c[5] = c[0];
      c[3] = c[0] != 0 ? std::min(now_ms_ - c[4], c[1]) : 0;
      c[2] = c[0] != 0 && now_ms_ - c[4] >= c[1];
      return;
    }
    const bool level = (native == Native::rising) == (c[0] != 0);  // CLK, Q, M
    const bool before = native == Native::rising ? c[2] != 0 : c[2] == 0;
    c[1] = level && !before;
    c[2] = c[0];
  }

  std::vector<double>& cells_;
  double now_ms_;
};

}  // namespace

void Running::run(double cycle_ms) {
  now_ms_ += cycle_ms;
  Machine(cells_, now_ms_).run(block_, 0);
}

}  // namespace structured_text
