#include "readiness/parameter_compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <cmath>
#include <map>
#include <tuple>

#include "readiness/parameter_number.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

struct Words {
  SkewEffect effect;
  std::vector<std::string_view> words;
};

// Looked for in this order; the first that is found decides. Words of identity come first, so that a "motor serial
// number" is not taken for a motor's number of poles.
const std::vector<Words>& dictionary() {
  static const std::vector<Words> table{
      {SkewEffect::none,
       {"serial", "firmware", "version", "hours", "device name", "axis name", "comment", "address", "node id",
        "station alias", "date", "display", "language"}},
      {SkewEffect::direction,
       {"polarity", "direction", "invert", "reverse", "sense", "commutation", "electrical angle", "angle offset",
        "phase order", "phase sequence"}},
      {SkewEffect::reaction,
       {"fault", "error", "trip", "brake", "stop", "limit switch", "deceleration", "timeout", "watchdog", "monitor",
        "window"}},
      {SkewEffect::homing, {"home", "homing", "reference", "latch", "mark", "index", "touch probe"}},
      {SkewEffect::scale,
       {"resolution", "counts", "increments", "encoder", "feedback", "pitch", "lead", "gear", "ratio", "numerator",
        "denominator", "lines", "scale", "scaling", "pulses"}},
      {SkewEffect::force,
       {"torque", "force", "current", "pole", "motor", "inertia", "mass", "kt", "peak", "continuous", "rated",
        "offset"}},
      {SkewEffect::gain,
       {"gain", "kp", "ki", "kv", "kd", "integral", "proportional", "bandwidth", "stiffness", "feed"}},
      {SkewEffect::timing,
       {"filter", "notch", "delay", "period", "cycle", "time", "smoothing", "low pass", "lowpass", "cutoff",
        "damping"}}};
  return table;
}

std::string shown(const Parameter& p) { return p.unit.empty() ? p.value : p.value + " " + p.unit; }

bool same_dimension(const Parameter& a, const Parameter& b) {
  if (lowered(a.unit) == lowered(b.unit)) return true;
  const auto unit_a = units::find_unit(a.si_unit), unit_b = units::find_unit(b.si_unit);
  return !a.si_unit.empty() && !b.si_unit.empty() && unit_a && unit_b && unit_a->dimension == unit_b->dimension;
}

double factor_of(const Parameter& p) {
  const auto unit = units::find_unit(p.si_unit);
  return p.si_unit.empty() || !unit ? 1 : unit->factor;
}

enum class Same { no, as_written, yes };

Same compare_values(const Parameter& a, const Parameter& b) {
  if (a.number.has_value() != b.number.has_value()) return Same::no;
  if (!a.number)
    return lowered(a.value) == lowered(b.value) && lowered(a.unit) == lowered(b.unit) ? Same::yes : Same::no;
  if (!same_dimension(a, b)) return Same::no;
  const double difference = std::abs(*a.number - *b.number);
  // Two decimals of one number, through two units: rounding of the conversion only.
  if (difference <= 1e-14 * std::max(std::abs(*a.number), std::abs(*b.number))) return Same::yes;
  const double doubt_a = written_doubt(a.value) * factor_of(a), doubt_b = written_doubt(b.value) * factor_of(b);
  // The longer number must round to the shorter; two numbers of one length that differ, differ.
  const bool unlike = std::abs(doubt_a - doubt_b) > 1e-9 * std::max(doubt_a, doubt_b);
  return unlike && doubt_a > 0 && doubt_b > 0 && difference <= std::max(doubt_a, doubt_b) * (1 + 1e-9)
             ? Same::as_written
             : Same::no;
}

double relative_difference(const Parameter* a, const Parameter* b) {
  if (!a || !b || !a->number || !b->number || !same_dimension(*a, *b)) return 1;
  const double larger = std::max(std::abs(*a->number), std::abs(*b->number));
  return larger > 0 ? std::abs(*a->number - *b->number) / larger : 1;
}

using ByName = std::map<std::string, const Parameter*>;

ByName by_name(const ParameterText& text) {
  ByName out;
  for (const Parameter& p : text.parameters) out.emplace(lowered(p.name), &p);
  return out;
}

const Parameter* find(const ByName& names, const std::string& name) {
  const auto it = names.find(name);
  return it == names.end() ? nullptr : it->second;
}

Difference difference_of(const Parameter* a, const Parameter* b, const std::vector<Intended>& intended) {
  Difference d{.name = (a ? a : b)->name,
               .a = a ? shown(*a) : "not read",
               .b = b ? shown(*b) : "not read",
               .relative = relative_difference(a, b)};
  d.effect = skew_effect(d.name);
  for (const Intended& one : intended)
    if (lowered(one.name) == lowered(d.name) && a && b) d.intended = one.reason;
  return d;
}

}  // namespace

std::string to_text(SkewEffect effect) {
  static const std::array<const char*, 9> words{"may drive one side against the other",
                                                "skew that grows with the way",
                                                "unequal forces: skew whenever it accelerates",
                                                "one side stops otherwise than the other",
                                                "skew while it moves",
                                                "skew at changes of speed, and less margin",
                                                "skew that is there after homing",
                                                "not told by its name: look it up",
                                                "none"};
  return words[static_cast<std::size_t>(effect)];
}

SkewEffect skew_effect(const std::string& name) {
  // Words are looked for with the name's marks as blanks: "VelLoop.Kp_Gain" holds "kp" and "gain".
  std::string plain = " ";
  for (const char c : lowered(name)) plain += std::isalnum(static_cast<unsigned char>(c)) ? c : ' ';
  plain += ' ';
  for (const Words& row : dictionary())
    for (const std::string_view word : row.words) {
      const bool is_short = word.size() < 4;  // short ones only as whole words
      if (plain.find(is_short ? fmt::format(" {} ", word) : std::string(word)) != std::string::npos)
        return row.effect;
    }
  return SkewEffect::unknown;
}

ParameterComparison compare_parameters(const ParameterText& a, const ParameterText& b,
                                       const std::vector<Intended>& intended) {
  const ByName names_a = by_name(a), names_b = by_name(b);
  ParameterComparison out{.read_a = names_a.size(), .read_b = names_b.size()};
  for (const auto& [name, of_a] : names_a) {
    const Parameter* of_b = find(names_b, name);
    const Same same = of_b ? compare_values(*of_a, *of_b) : Same::no;
    if (same != Same::no) ++out.equal;
    if (same == Same::as_written)
      out.equal_as_written.push_back(fmt::format("{}: {} and {}", of_a->name, shown(*of_a), shown(*of_b)));
    if (same == Same::no) out.differences.push_back(difference_of(of_a, of_b, intended));
  }
  for (const auto& [name, of_b] : names_b)
    if (!find(names_a, name)) out.differences.push_back(difference_of(nullptr, of_b, intended));
  std::stable_sort(out.differences.begin(), out.differences.end(), [](const Difference& x, const Difference& y) {
    const auto rank = [](const Difference& d) { return std::tuple(!d.intended.empty(), d.effect, -d.relative); };
    return rank(x) < rank(y);
  });
  return out;
}

}  // namespace evenbeam::readiness
