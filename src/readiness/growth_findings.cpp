#include <fmt/format.h>

#include <algorithm>

#include "readiness/growth.h"
#include "readiness/guide_tolerance.h"
#include "readiness/ready_station.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;
using machine::Machine;

std::string shown(double value, const Machine& m) {
  return units::print_quantity(value, "m", units::shown_unit("m", m.length_unit, m.force_unit), 3);
}

// What of the guides' tolerance the rails have left: the stated limit of the line, else the formula, less what was
// measured.
struct Left {
  std::optional<double> m;
  std::string words;
};
Left tolerance_left(const Sheet& sheet, const Machine& m) {
  const Measured* line = find_measured(sheet, "rail_parallelism");
  const auto formula = parallel_tolerance(m.guides);
  const auto limit = line && line->high ? line->high : formula ? std::optional(formula->error_m) : std::nullopt;
  if (!limit) return {std::nullopt, "the guides' tolerance is not known"};
  const double used = line && line->value ? *line->value + line->error : 0;
  return {std::max(0.0, *limit - used),
          fmt::format("what is left of the rails' tolerance {} less {} off parallel as measured", shown(*limit, m),
                      shown(used, m))};
}

Finding across(const Growth& g, const Left& left, const Machine& m) {
  const machine::Thermal& t = m.thermal;
  Finding f{.id = "growth_across", .verdict = Verdict::pass, .value = g.pressed_m, .unit = "m", .limit = left.m};
  f.source = fmt::format("alpha L dT; bridge {}: {}; base {}: {}; {}", t.bridge->name, t.bridge->source, t.base->name,
                         t.base->source, left.words);
  f.text = fmt::format("Over {:.3g} K the bridge grows by {} and the rails part by {}", *t.change_k,
                       shown(*g.bridge_m, m), shown(*g.rails_apart_m, m));
  if (t.one_side_floats) {
    f.text += "; the carriages of one rail give way across and take the difference.";
    return f;
  }
  f.text += fmt::format("; the carriages are pressed by {}{}.", shown(*g.pressed_m, m),
                        t.uneven_k ? fmt::format(" with {:.3g} K between bridge and base", *t.uneven_k) : "");
  if (left.m && *g.pressed_m <= *left.m) return f;
  f.verdict = Verdict::attention;
  if (g.change_taken_k) f.text += fmt::format(" They take {:.2g} K.", *g.change_taken_k);
  f.next =
      left.m ? "Let the carriages of one rail float across, or make the bridge of what the base is made of; until "
               "then set the rails at the temperature of work."
             : "State static_rating and dynamic_rating in [guides], or the guide maker's limit at rail_parallelism.";
  return f;
}

Finding along(const Growth& g, const Machine& m) {
  const machine::Thermal& t = m.thermal;
  return {
      .id = "growth_along",
      .verdict = Verdict::pass,
      .text = fmt::format("Over {:.3g} K the scales grow by {} over the travel: both sides stand further by as much, "
                          "and so does the work.",
                          *t.change_k, shown(*g.along_m, m)),
      .value = g.along_m,
      .unit = "m",
      .source = fmt::format("alpha l dT; scale {}: {}", t.scale->name, t.scale->source)};
}

Finding at_marks(const Growth& g, const Machine& m, const Known& known) {
  const machine::Thermal& t = m.thermal;
  Finding f{.id = "growth_at_marks", .verdict = Verdict::pass, .value = g.mark_skew_m, .unit = "m"};
  f.source = fmt::format("alpha x u; scale {}: {}", t.scale->name, t.scale->source);
  f.text = fmt::format("{:.3g} K between the sides' scales skew the bridge by {} at the marks.", *t.uneven_k,
                       shown(*g.mark_skew_m, m));
  if (m.homing.squareness_wanted_rad)
    f.limit = *m.homing.squareness_wanted_rad * m.span_m, f.source += "; squareness_wanted of [homing]";
  else if (known.allowable_skew_m)
    f.limit = known.allowable_skew_m, f.source += "; allowable_skew_m of station limits";
  if (!f.limit || *g.mark_skew_m <= *f.limit) return f;
  f.verdict = Verdict::attention;
  f.text += fmt::format(" {:.2g} K are taken.", *f.limit / *g.mark_skew_m * *t.uneven_k);
  f.next = "Keep heat from one side (drives, sun, cabinet), or search again at the temperature of work.";
  return f;
}

}  // namespace

void add_growth(const Sheet& sheet, const Machine& m, const Known& known, base::StationResult& result) {
  const Left left = tolerance_left(sheet, m);
  const Growth g = growth(m, left.m);
  if (g.pressed_m) result.findings.push_back(across(g, left, m));
  if (g.along_m) result.findings.push_back(along(g, m));
  if (g.mark_skew_m) result.findings.push_back(at_marks(g, m, known));
  const auto put = [&](const char* key, const std::optional<double>& value, const char* unit) {
    if (value) add_number(result, key, *value, unit);
  };
  put("growth_bridge_m", g.bridge_m, "m"), put("growth_rails_apart_m", g.rails_apart_m, "m");
  put("growth_pressed_m", g.pressed_m, "m"), put("growth_along_m", g.along_m, "m");
  put("growth_mark_skew_m", g.mark_skew_m, "m"), put("growth_change_taken_k", g.change_taken_k, "K");
}

}  // namespace evenbeam::readiness
