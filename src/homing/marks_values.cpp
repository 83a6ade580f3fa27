#include "homing/marks_values.h"

namespace evenbeam::homing {
namespace {

using base::Value;

Value metres(double value) { return {.value = value, .unit = "m"}; }
Value metres(const math::Estimate& e) { return {.value = e.value, .unit = "m", .lower = e.lower, .upper = e.upper}; }
Value text(std::string words) { return {.value = std::move(words)}; }

void put_search(std::vector<std::pair<std::string, Value>>& v, const MarksParts& parts, const SearchRecipe& r) {
  const Value unknown{.unit = "m"};
  v.emplace_back("search_overtravel_m", r.known ? metres(r.beyond_first_mark_m) : unknown);
  v.emplace_back("search_start_before_first_mark_m", r.known ? metres(r.start_before_first_mark_m) : unknown);
  v.emplace_back("success_margin_m", r.known ? metres(parts.plan.way.least_margin) : unknown);
  if (!r.known) return;
  if (parts.plan.way.least_force_n < 1e299)
    v.emplace_back("success_margin_n", Value{.value = parts.plan.way.least_force_n, .unit = "N"});
  v.emplace_back("start_skew_range_m", metres(parts.request.problem.start_skew_m.high));
  v.emplace_back("search_overtravel_beyond_leading_m", metres(r.overtravel_m));
  v.emplace_back("search_promised", text(parts.plan.promised ? "yes" : "no"));
  v.emplace_back("search_words", text(r.words));
  v.emplace_back("search_direction", Value{.value = static_cast<double>(r.direction), .unit = "1"});
  v.emplace_back("leading_side", text(r.a_leads ? "A" : "B"));
  v.emplace_back("search_speed_m_per_s", Value{.value = r.speed_m_per_s, .unit = "m/s"});
  v.emplace_back("search_time_out_s", Value{.value = r.search_time_out_s, .unit = "s"});
  v.emplace_back("latch_difference_low_m", metres(r.latch_difference_m.low));
  v.emplace_back("latch_difference_high_m", metres(r.latch_difference_m.high));
  v.emplace_back("drive_method", Value{.value = static_cast<double>(r.method_a.number), .unit = "1"});
}

Value searches_value(const Marks& marks) {
  std::vector<base::Row> rows;
  const SearchRun* first = nullptr;
  for (const SearchRun& run : marks.runs) {
    base::Row row{{"run", run.name}};
    if (run.both_seen) row.insert(row.end(), {{"latch_a_m", run.latch_a_m}, {"latch_b_m", run.latch_b_m}});
    if (run.stress_free_m) row.emplace_back("power_up_skew_m", -run.stress_free_m->value);
    if (run.b_minus_a_m) row.emplace_back("b_minus_a_m", run.b_minus_a_m->value);
    if (run.left_out) row.emplace_back("left_out", "yes");
    if (run.both_seen && !run.left_out) {
      if (first == nullptr) first = &run;
      row.emplace_back("power_up_skew_against_first_m",
                       first->latch_a_m - first->latch_b_m - (run.latch_a_m - run.latch_b_m));
    }
    rows.push_back(row);
  }
  return {.value = rows};
}

void put_attitude(std::vector<std::pair<std::string, Value>>& v, const MarksParts& parts) {
  if (parts.take_out.advice != Advice::not_known) {
    v.emplace_back("take_out", text(to_text(parts.take_out.advice)));
    v.emplace_back("take_out_rate_m_per_s", Value{.value = parts.take_out.rate_m_per_s, .unit = "m/s"});
    v.emplace_back("take_out_moment_n_m", Value{.value = parts.take_out.largest_moment_n_m, .unit = "N*m"});
    if (parts.played) {
      v.emplace_back("take_out_moment_played_n_m", Value{.value = parts.played->largest_moment_n_m, .unit = "N*m"});
      v.emplace_back("take_out_fight_played_n", Value{.value = parts.played->largest_fight_n, .unit = "N"});
    }
    v.emplace_back("take_out_fight_n", Value{.value = parts.take_out.largest_fight_n, .unit = "N"});
  }
  if (!parts.trade || !parts.trade->known) return;
  std::vector<base::Row> rows;
  for (const AttitudePoint& p : parts.trade->curve) {
    base::Row row{{"skew_m", p.skew_m}, {"out_of_square_rad", p.out_of_square_rad}, {"fight_n", p.fight_n}};
    if (p.life_ratio_worst) row.emplace_back("life_ratio", *p.life_ratio_worst);
    rows.push_back(row);
  }
  v.emplace_back("attitudes", Value{.value = rows});
  v.emplace_back("recommended_skew_off_free_m", metres(parts.trade->recommended.skew_m));
  v.emplace_back("recommended_b_minus_a_m",
                 metres(parts.marks.b_minus_a_free_m.value - parts.trade->recommended.skew_m));
}

}  // namespace

void put_marks_values(base::StationResult& result, const MarksParts& parts, const MarksInput& input,
                      const SearchRecipe& recipe) {
  auto& v = result.values;
  const Marks& marks = parts.marks;
  Value free{.unit = "m"};
  if (marks.known)
    free = metres(marks.b_minus_a_free_m);
  else if (marks.b_minus_a_bounds_m)
    free.lower = marks.b_minus_a_bounds_m->low, free.upper = marks.b_minus_a_bounds_m->high, free.level = 1;
  v.emplace_back("marks_a_minus_b_free_m", free);
  v.emplace_back("marks_a_minus_b_square_m", input.square_m ? metres(*input.square_m) : Value{.unit = "m"});
  v.emplace_back("home_attitude", text(parts.offsets.attitude));
  const auto offset = [&](const SideOffset& o) {
    if (!parts.offsets.known) return Value{.unit = "m"};
    return Value{.value = o.value_m, .unit = "m", .lower = o.lower_m, .upper = o.upper_m};
  };
  v.emplace_back("home_offset_a_m", offset(offset_a(parts.offsets)));
  v.emplace_back("home_offset_b_m", offset(offset_b(parts.offsets)));
  v.emplace_back("kept_zero", text(to_text(parts.offsets.kept)));
  if (parts.offsets.known) v.emplace_back("axis_zero_from_marks_m", metres(axis_zero_from_marks_m(parts.offsets)));
  put_search(v, parts, recipe);
  v.emplace_back("repeatability_m", marks.counted > 1 ? metres(marks.spread_m) : Value{.unit = "m"});
  put_attitude(v, parts);
  if (!marks.runs.empty()) v.emplace_back("searches", searches_value(marks));
}

}  // namespace evenbeam::homing
