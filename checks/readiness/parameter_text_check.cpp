// One set of parameters written by a random exporter: order, separator, remarks, decimal sign, thousands,
// hexadecimal, prefixes of units, quotes. Read back and compared it must be equal to itself; what is taken out or
// changed must be told, each by its name, and nothing else. Formats invented here; no exporter's own.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <random>
#include <set>

#include "readiness/parameter_compare.h"

using namespace evenbeam::readiness;

namespace {

struct Written {
  std::string name;
  double value = 0;  // in `unit`
  std::string unit;  // "" or one of the two-way units below
  bool whole = false;
};

class Exporter {
 public:
  explicit Exporter(unsigned seed) : random_(seed) {}

  std::vector<Written> set(int count) {
    std::vector<Written> out;
    for (int i = 0; i < count; ++i) {
      const bool whole = pick(3) == 0;
      const char* units[] = {"", "ms", "mA", "mm"};
      out.push_back({fmt::format("Par{} x", i), whole ? double(pick(60000)) : (1 + pick(99999)) / 100.0,
                     whole ? "" : units[pick(4)], whole});
    }
    out.push_back({"Fraction", 0.125, "", false});  // fixes the decimal sign of the file
    return out;
  }

  std::string text(std::vector<Written> set) {
    std::shuffle(set.begin(), set.end(), random_);
    const bool comma = pick(2) == 0;
    const std::string separator = std::vector<std::string>{" = ", ";", "\t", ": "}[std::size_t(pick(4))];
    const bool own_column = separator == ";" || separator == "\t";
    std::string out = pick(2) == 0 ? "# exported\n\n" : "";
    for (const Written& w : set) {
      if (pick(5) == 0) out += std::vector<std::string>{"# remark\n", "\n", "// remark\n"}[std::size_t(pick(3))];
      auto [number, unit] = number_of(w);
      if (comma) std::replace(number.begin(), number.end(), '.', ',');
      out += (pick(4) == 0 ? upper(w.name) : w.name) + separator + number;
      if (!unit.empty()) out += (own_column ? separator : " ") + unit;
      out += pick(2) == 0 ? "\n" : "\r\n";
    }
    return out;
  }

  int pick(int below) { return std::uniform_int_distribution<int>(0, below - 1)(random_); }

 private:
  static std::string upper(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return std::toupper(c); });
    return text;
  }

  std::pair<std::string, std::string> number_of(const Written& w) {
    if (w.whole && pick(3) == 0) return {fmt::format("0x{:X}", long(w.value)), ""};
    if (w.whole) return {fmt::format("{}", long(w.value)), ""};
    if (!w.unit.empty() && pick(2) == 0)  // the same in the unit a thousand times as large, no digit lost
      return {fmt::format("{:.5f}", w.value / 1000), w.unit.substr(1)};
    return {fmt::format("{:.2f}", w.value), w.unit};
  }

  std::mt19937 random_;
};

std::string value_of(const Written& w) { return fmt::format("{} = {} {}", w.name, w.value, w.unit); }

}  // namespace

TEST_CASE("a set is equal to itself in every order, layout and number format") {
  for (unsigned seed = 1; seed <= 300; ++seed) {
    CAPTURE(seed);
    Exporter exporter(seed);
    const auto set = exporter.set(12);
    const std::string a = exporter.text(set), b = exporter.text(set);
    CAPTURE(a);
    CAPTURE(b);
    const auto c = compare_parameters(read_parameter_text(a, "a"), read_parameter_text(b, "b"), {});
    CHECK(c.equal == set.size());
    for (const Difference& d : c.differences) FAIL_CHECK(d.name << ": " << d.a << " | " << d.b);
  }
}

TEST_CASE("what is missing or changed by the last digit is told by name, and nothing else is") {
  for (unsigned seed = 1; seed <= 300; ++seed) {
    CAPTURE(seed);
    Exporter exporter(seed);
    const auto set = exporter.set(12);
    auto other = set;
    std::set<std::string> wanted;
    const std::size_t changed = std::size_t(exporter.pick(6)), gone = 6 + std::size_t(exporter.pick(6));
    other[changed].value += other[changed].whole ? 1 : 0.01;
    wanted.insert(set[changed].name);
    wanted.insert(set[gone].name);
    other.erase(other.begin() + long(gone));
    const auto c = compare_parameters(read_parameter_text(exporter.text(set), "a"),
                                      read_parameter_text(exporter.text(other), "b"), {});
    std::set<std::string> told;
    for (const Difference& d : c.differences) {
      std::string name = d.name;
      std::transform(name.begin() + 1, name.end(), name.begin() + 1,
                     [](unsigned char ch) { return std::tolower(ch); });
      told.insert(name);
      if (name == set[gone].name) CHECK(d.b == "not read");
    }
    CAPTURE(value_of(set[changed]));
    CHECK(told == wanted);
    CHECK(c.equal == set.size() - 2);
  }
}
