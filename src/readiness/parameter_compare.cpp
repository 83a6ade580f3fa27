#include "readiness/parameter_compare.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>
#include <utility>

#include "readiness/parameter_number.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

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

Difference difference_of(const Parameter* a, const Parameter* b, const Stated& stated) {
  Difference d{.name = (a ? a : b)->name,
               .a = a ? shown(*a) : "not read",
               .b = b ? shown(*b) : "not read",
               .relative = relative_difference(a, b)};
  EffectTold told = skew_effect(d.name, stated.effects);
  d.effect = told.effect, d.told_by = std::move(told.told_by);
  for (const Intended& one : stated.intended)
    if (lowered(one.name) == lowered(d.name) && a && b) d.intended = one.reason;
  return d;
}

}  // namespace

ParameterComparison compare_parameters(const ParameterText& a, const ParameterText& b, const Stated& stated) {
  const ByName names_a = by_name(a), names_b = by_name(b);
  ParameterComparison out{.read_a = names_a.size(), .read_b = names_b.size()};
  for (const auto& [name, of_a] : names_a) {
    const Parameter* of_b = find(names_b, name);
    const Same same = of_b ? compare_values(*of_a, *of_b) : Same::no;
    if (same != Same::no) ++out.equal;
    if (same == Same::as_written)
      out.equal_as_written.push_back(fmt::format("{}: {} and {}", of_a->name, shown(*of_a), shown(*of_b)));
    if (same == Same::no) out.differences.push_back(difference_of(of_a, of_b, stated));
  }
  for (const auto& [name, of_b] : names_b)
    if (!find(names_a, name)) out.differences.push_back(difference_of(nullptr, of_b, stated));
  std::stable_sort(out.differences.begin(), out.differences.end(), [](const Difference& x, const Difference& y) {
    const auto rank = [](const Difference& d) { return std::tuple(!d.intended.empty(), d.effect, -d.relative); };
    return rank(x) < rank(y);
  });
  return out;
}

}  // namespace evenbeam::readiness
