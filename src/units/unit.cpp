#include "units/unit.h"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <cstdlib>

#include "units/spelling.h"
#include "units/unit_table.h"

namespace evenbeam::units {
namespace {

// A unit while it is being multiplied out. Numerator and denominator stay apart until the end (unit_table.h).
struct Scale {
  Dimension dimension;
  double numerator = 1, denominator = 1, offset = 0;
};

constexpr int largest_power = 6;  // more than any quantity of a machine needs; guards against "m99999999"
constexpr int deepest_nesting = 8;

void multiply(Scale& into, const Scale& by, int power) {
  into.dimension.length += power * by.dimension.length;
  into.dimension.mass += power * by.dimension.mass;
  into.dimension.time += power * by.dimension.time;
  into.dimension.current += power * by.dimension.current;
  into.dimension.angle += power * by.dimension.angle;
  into.dimension.temperature += power * by.dimension.temperature;
  for (int i = 0; i < std::abs(power); ++i) {
    into.numerator *= power > 0 ? by.numerator : by.denominator;
    into.denominator *= power > 0 ? by.denominator : by.numerator;
  }
}

bool is_letter(char c) { return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '%'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

// quotient := product ('/' factor)*        one factor after each '/': "N/m*s" is unclear and refused
// product  := factor (('*' | ' ') factor)*
// factor   := (symbol | '1' | '(' quotient ')') power?
class UnitParser {
 public:
  explicit UnitParser(std::string_view text) : rest_(text) {}

  std::optional<Scale> parse() {
    std::optional<Scale> scale = quotient(0);
    skip_blanks();
    if (!rest_.empty() || (offset_met_ && factors_ > 1)) return std::nullopt;
    return scale;
  }

 private:
  void skip_blanks() {
    while (!rest_.empty() && rest_.front() == ' ') rest_.remove_prefix(1);
  }
  bool take(char c) {
    if (rest_.empty() || rest_.front() != c) return false;
    rest_.remove_prefix(1);
    return true;
  }
  template <class Keep>
  std::string_view take_while(Keep keep) {
    size_t count = 0;
    while (count < rest_.size() && keep(rest_[count])) ++count;
    const std::string_view taken = rest_.substr(0, count);
    rest_.remove_prefix(count);
    return taken;
  }

  std::optional<Scale> quotient(int depth) {
    std::optional<Scale> scale = product(depth);
    while (scale) {
      skip_blanks();
      if (!take('/')) break;
      skip_blanks();
      const std::optional<Scale> below = factor(depth);
      if (!below) return std::nullopt;
      multiply(*scale, *below, -1);
    }
    return scale;
  }

  std::optional<Scale> product(int depth) {
    std::optional<Scale> scale = factor(depth);
    while (scale) {
      skip_blanks();
      const bool dot = take('*');
      skip_blanks();
      if (!dot && (rest_.empty() || (!is_letter(rest_.front()) && rest_.front() != '('))) break;
      const std::optional<Scale> next = factor(depth);
      if (!next) return std::nullopt;
      multiply(*scale, *next, 1);
    }
    return scale;
  }

  std::optional<Scale> factor(int depth) {
    ++factors_;
    if (take('(')) {
      std::optional<Scale> inner = depth < deepest_nesting ? quotient(depth + 1) : std::nullopt;
      skip_blanks();
      if (!inner || !take(')')) return std::nullopt;
      return raised(*inner, false);
    }
    if (take('1')) return rest_.empty() || !is_digit(rest_.front()) ? std::optional(Scale{}) : std::nullopt;
    const std::string_view name = take_while(is_letter);
    if (const auto inertia = run_together_inertia(name)) return inertia;
    for (const Symbol& symbol : symbols())
      if (symbol.text == name) {
        offset_met_ = offset_met_ || symbol.offset != 0;
        return raised({symbol.dimension, symbol.numerator, symbol.denominator, symbol.offset}, symbol.compound);
      }
    return std::nullopt;
  }

  // "kgm2", "kgcm^2" as catalogues print them; without the 2 such a word is no unit.
  std::optional<Scale> run_together_inertia(std::string_view name) {
    constexpr Dimension inertia{.length = 2, .mass = 1};
    struct Row {
      std::string_view name;
      double denominator;
    };
    for (const Row& row : std::array{Row{"kgm", 1}, Row{"kgcm", 1e4}, Row{"gcm", 1e7}, Row{"kgmm", 1e6}})
      if (name == row.name) {
        take('^');
        return take('2') ? std::optional(Scale{inertia, 1, row.denominator, 0}) : std::nullopt;
      }
    return std::nullopt;
  }

  // Power after a symbol: "^2", "^-1", "2", "-1" or nothing.
  std::optional<Scale> raised(const Scale& base, bool compound) {
    const bool caret = take('^');
    const bool minus = take('-');
    const std::string_view digits = take_while(is_digit);
    if (digits.empty()) return caret || minus ? std::nullopt : std::optional(base);
    if (digits.size() != 1 || compound || base.offset != 0) return std::nullopt;
    const int power = digits.front() - '0';
    if (power == 0 || power > largest_power) return std::nullopt;
    Scale scale;
    multiply(scale, base, minus ? -power : power);
    return scale;
  }

  std::string_view rest_;
  int factors_ = 0;
  bool offset_met_ = false;  // degC: stands alone or not at all
};

}  // namespace

std::optional<Unit> find_unit(std::string_view text) {
  const std::string plain = plain_spelling(text);
  if (plain.empty()) return std::nullopt;
  const std::optional<Scale> scale = UnitParser(plain).parse();
  if (!scale) return std::nullopt;
  const double factor = scale->numerator / scale->denominator;
  if (!std::isfinite(factor) || factor == 0) return std::nullopt;
  return Unit{trimmed(text), scale->dimension, factor, scale->offset};
}

std::string describe(const Dimension& dimension) {
  for (const DimensionName& row : dimension_names())
    if (row.dimension == dimension) return fmt::format("{} ({})", row.name, row.examples);
  std::string text;
  const auto part = [&](const char* symbol, int power) {
    if (power == 0) return;
    text += fmt::format("{}{}", text.empty() ? "" : "*", symbol);
    if (power != 1) text += fmt::format("^{}", power);
  };
  part("kg", dimension.mass);
  part("m", dimension.length);
  part("s", dimension.time);
  part("A", dimension.current);
  part("rad", dimension.angle);
  part("K", dimension.temperature);
  return "a quantity in " + text;
}

}  // namespace evenbeam::units
