#include "acceptance/cold_and_warm.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acceptance/prove_findings.h"
#include "machine/settings_file.h"
#include "units/unit.h"

namespace evenbeam::acceptance {
namespace {

using base::Finding;
using base::Verdict;

// All common practice, no source.
constexpr double least_apart_k = 2;
constexpr double same_distance = 0.1, same_speed = 0.15, same_place = 0.1;
constexpr double friction_part = 0.3, skew_part = 0.3;
constexpr double fight_part = 0.2;  // of continuous force

bool near(double a, double b, double part) { return std::abs(a - b) <= part * std::max(std::abs(a), std::abs(b)); }

bool same_move(const machine::Machine& m, const JudgedMove& a, const JudgedMove& b) {
  const auto &p = a.measures.phases.strokes, &q = b.measures.phases.strokes;
  if (p.empty() || q.empty()) return false;
  if (!near(std::abs(p[0].distance_m), std::abs(q[0].distance_m), same_distance)) return false;
  if (!near(p[0].top_speed_m_per_s, q[0].top_speed_m_per_s, same_speed)) return false;
  const machine::CarriageRange range = machine::carriage_range(m);
  const auto &y = a.recording->carriage_y_m, &z = b.recording->carriage_y_m;
  if (y.has_value() != z.has_value() || (y && std::abs(*y - *z) > same_place * (range.max_y_m - range.min_y_m)))
    return false;
  const double heavy = m.payload_max_kg.value_or(0);
  return std::abs(a.recording->payload_kg.value_or(0) - b.recording->payload_kg.value_or(0)) <= same_place * heavy;
}

std::optional<double> change(const std::optional<double>& cold, const std::optional<double>& warm) {
  return cold && warm ? std::optional(*warm - *cold) : std::nullopt;
}

std::optional<double> rms(const JudgedMove& move, bool side_a) {
  const auto& force = side_a ? move.measures.force_a : move.measures.force_b;
  return force ? std::optional(force->rms_n) : std::nullopt;
}

// Where both state their loops and these differ, the skew says more of the loops than of heat.
bool other_loops(const ColdWarm& p) {
  const auto &a = p.cold->recording->loops, &b = p.warm->recording->loops;
  return a && b && machine::write_settings(*a) != machine::write_settings(*b);
}

std::string number(double value, const char* unit, const machine::Machine& m) {
  return units::print_quantity(value, unit, units::shown_unit(unit, m.length_unit, m.force_unit), 3);
}

}  // namespace

std::optional<double> cruise_friction_n(const JudgedMove& move, bool side_a) {
  const auto& force = side_a ? move.recording->force_a_n : move.recording->force_b_n;
  if (force.empty()) return std::nullopt;
  double sum[2] = {0, 0}, n[2] = {0, 0};
  for (const Stroke& stroke : move.measures.phases.strokes)
    for (std::size_t i = stroke.from; i < stroke.to; ++i) {
      if (move.measures.phases.of_sample[i] != Phase::cruise || !std::isfinite(force[i])) continue;
      sum[stroke.direction > 0] += force[i], ++n[stroke.direction > 0];
    }
  if (!(n[0] > 0) || !(n[1] > 0)) return std::nullopt;
  return (sum[1] / n[1] - sum[0] / n[0]) / 2;
}

std::vector<ColdWarm> cold_and_warm(const machine::Machine& machine, const std::vector<JudgedMove>& moves) {
  std::vector<std::vector<const JudgedMove*>> kinds;
  for (const JudgedMove& move : moves) {
    if (!move.recording->temperature_k) continue;
    const auto kind = std::find_if(kinds.begin(), kinds.end(),
                                   [&](const auto& list) { return same_move(machine, *list.front(), move); });
    if (kind == kinds.end())
      kinds.push_back({&move});
    else
      kind->push_back(&move);
  }
  std::vector<ColdWarm> out;
  for (const auto& list : kinds) {
    const auto [cold, warm] = std::minmax_element(list.begin(), list.end(), [](const auto* a, const auto* b) {
      return *a->recording->temperature_k < *b->recording->temperature_k;
    });
    const double apart = *(*warm)->recording->temperature_k - *(*cold)->recording->temperature_k;
    if (apart >= least_apart_k) out.push_back({*cold, *warm, apart});
  }
  return out;
}

Finding cold_warm_finding(const ColdWarm& p, const machine::Machine& m) {
  Finding f{.id = "cold_warm_" + slug(p.warm->recording->name), .verdict = Verdict::pass};
  f.recording = p.warm->recording->name;
  f.source = "limits: friction and skew by 30 %, fight by 20 % of continuous force; common practice, no source";
  f.text = fmt::format("{:.3g} K warmer than {}:", p.change_k, p.cold->recording->name);
  for (const bool side_a : {true, false}) {
    const auto cold = cruise_friction_n(*p.cold, side_a), warm = cruise_friction_n(*p.warm, side_a);
    if (!cold || !warm) continue;
    const bool much = !near(*cold, *warm, friction_part);
    f.text += fmt::format(" friction of {} {} instead of {}{};", side_a ? "A" : "B", number(*warm, "N", m),
                          number(*cold, "N", m), much ? " (much)" : "");
    if (much) f.verdict = Verdict::attention;
  }
  if (other_loops(p)) {
    f.text += " the loops differ, so their skews are not compared";
  } else {
    const double cold_skew = p.cold->measures.skew.peak, warm_skew = p.warm->measures.skew.peak;
    const double doubt = p.cold->measures.peak_doubt_m + p.warm->measures.peak_doubt_m;
    f.text += fmt::format(" peak skew {} instead of {}", number(warm_skew, "m", m), number(cold_skew, "m", m));
    if (std::abs(warm_skew - cold_skew) > skew_part * cold_skew + doubt) f.verdict = Verdict::attention;
  }
  if (const auto fight = change(p.cold->measures.standing_fight_n, p.warm->measures.standing_fight_n)) {
    f.value = *fight, f.unit = "N";
    if (m.a.continuous_force_n && m.b.continuous_force_n)
      f.limit = fight_part * std::min(*m.a.continuous_force_n, *m.b.continuous_force_n);
    f.text += fmt::format("; standing fight changed by {}", number(*fight, "N", m));
    if (f.limit && std::abs(*fight) > *f.limit) f.verdict = Verdict::attention;
  }
  f.text += ".";
  if (f.verdict == Verdict::attention)
    f.next =
        "Tune and set friction feed-forward at the temperature of work; where the fight changed, look at growth "
        "(station ready) and search again when warm (station marks).";
  return f;
}

base::Value cold_warm_rows(const std::vector<ColdWarm>& pairs) {
  std::vector<base::Row> rows;
  const auto cell = [](const std::optional<double>& x) { return x ? base::Cell(*x) : base::Cell("unknown"); };
  for (const ColdWarm& p : pairs) {
    base::Row row{{"cold", p.cold->recording->name}, {"warm", p.warm->recording->name}, {"change_k", p.change_k}};
    for (const bool side_a : {true, false}) {
      const std::string side = side_a ? "a" : "b";
      row.emplace_back("friction_cold_" + side + "_n", cell(cruise_friction_n(*p.cold, side_a)));
      row.emplace_back("friction_warm_" + side + "_n", cell(cruise_friction_n(*p.warm, side_a)));
      row.emplace_back("rms_force_change_" + side + "_n", cell(change(rms(*p.cold, side_a), rms(*p.warm, side_a))));
    }
    row.emplace_back("peak_skew_change_m", other_loops(p)
                                               ? base::Cell("other loops")
                                               : base::Cell(p.warm->measures.skew.peak - p.cold->measures.skew.peak));
    row.emplace_back("standing_fight_change_n",
                     cell(change(p.cold->measures.standing_fight_n, p.warm->measures.standing_fight_n)));
    rows.push_back(std::move(row));
  }
  return {.value = std::move(rows)};
}

}  // namespace evenbeam::acceptance
