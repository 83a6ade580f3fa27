// What two values of A and B show against each other: each may be good by itself, and the pair still racks.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "readiness/ready_station.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;

// Differences that are worth a look (all common practice, no source).
constexpr double unlike_friction = 0.3, unlike_current = 0.2;
constexpr double unlike_brakes_s = 20e-3;

struct Pair {
  double a = 0, b = 0;
  double larger() const { return std::max(std::abs(a), std::abs(b)); }
  double apart() const { return std::abs(a - b); }
};

std::optional<Pair> pair_of(const Sheet& sheet, const std::string& line) {
  const Measured* a = find_measured(sheet, line + "_a");
  const Measured* b = find_measured(sheet, line + "_b");
  if (!a || !b || !a->value || !b->value) return std::nullopt;
  return Pair{*a->value, *b->value};
}

Finding unlike(const char* id, std::string text, double value, const char* unit, double limit, const char* next) {
  return {.id = id,
          .verdict = Verdict::attention,
          .text = std::move(text),
          .value = value,
          .unit = unit,
          .limit = limit,
          .source = no_source,
          .next = next};
}

void compare_friction(const Sheet& sheet, std::vector<Finding>& out) {
  const auto p = pair_of(sheet, "free_push");
  if (!p || p->apart() <= unlike_friction * p->larger()) return;
  out.push_back(
      unlike("friction_unlike",
             fmt::format("By hand A needs {:.3g} N and B {:.3g} N: the tighter side lags and the sides fight "
                         "by half the difference.",
                         p->a, p->b),
             p->apart(), "N", unlike_friction * p->larger(),
             "Look for the tight guide, rack, seal or brake on the heavier side before it is driven."));
}

void compare_scales(const Sheet& sheet, const machine::Machine& m, std::vector<Finding>& out) {
  const auto p = pair_of(sheet, "gauge_way");
  if (!p || !m.limits.travel_m) return;
  const double skew_m = p->apart() / 10e-3 * *m.limits.travel_m;
  const double doubt_m = std::hypot(10e-6, 10e-6) / 10e-3 * *m.limits.travel_m;  // two gauges, 10 um each
  const double limit_m = std::max(m.guides.stated_skew_limit_m.value_or(0), doubt_m);
  if (skew_m <= limit_m) return;
  out.push_back(
      unlike("scales_unlike",
             fmt::format("The sides' counts differ by {:.3g} %: over the travel that is a skew of {:.3g} mm.",
                         100 * p->apart() / 10e-3, 1e3 * skew_m),
             skew_m, "m", limit_m, "Compare pitch, gear and resolution of both sides, then gauge again."));
}

void compare_current(const Sheet& sheet, std::vector<Finding>& out) {
  const auto p = pair_of(sheet, "current_rise");
  if (!p || p->apart() <= unlike_current * p->larger()) return;
  out.push_back(unlike("current_unlike",
                       fmt::format("Current rises in {:.3g} ms on A and {:.3g} ms on B: at every change of force one "
                                   "side comes later.",
                                   1e3 * p->a, 1e3 * p->b),
                       p->apart(), "s", unlike_current * p->larger(),
                       "Give both current loops the same settings; else compare motors, cables and supply."));
}

void compare_brakes(const Sheet& sheet, std::vector<Finding>& out) {
  for (const auto& [line, id, word] : {std::tuple{"brake_close", "brakes_close_unlike", "close"},
                                       std::tuple{"brake_release", "brakes_release_unlike", "release"}}) {
    const auto p = pair_of(sheet, line);
    if (!p || p->apart() <= unlike_brakes_s) continue;
    out.push_back(unlike(
        id,
        fmt::format("The brakes {} {:.3g} ms apart: as long, one side stands and the other does not.", word,
                    1e3 * p->apart()),
        p->apart(), "s", unlike_brakes_s, "Same brakes, same suppression at both coils, one command for both."));
  }
}

}  // namespace

std::vector<Finding> pair_findings(const Sheet& sheet, const machine::Machine& machine) {
  std::vector<Finding> out;
  compare_friction(sheet, out);
  compare_scales(sheet, machine, out);
  compare_current(sheet, out);
  compare_brakes(sheet, out);
  return out;
}

}  // namespace evenbeam::readiness
