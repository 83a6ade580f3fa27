#include "protection/trips_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "protection/trips_findings.h"

namespace evenbeam::protection {
namespace {

using base::Finding;
using base::Value;
using base::Verdict;
using recording::Recording;

void put(base::StationResult& r, const char* key, std::optional<double> value, const char* unit) {
  Value out{.unit = unit};
  if (value) out.value = *value;
  r.values.emplace_back(key, out);
}

void put_or_none(base::Row& row, const char* key, std::optional<double> value) {
  if (value)
    row.emplace_back(key, *value);
  else
    row.emplace_back(key, std::string("none"));
}

std::vector<base::Row> fault_rows(const TripSettings& t) {
  std::vector<base::Row> rows;
  for (const FaultRow& row : t.faults) {
    const Worst& w = row.worst;
    rows.push_back({{"fault", to_text(w.fault)},
                    {"peak_skew_m", w.peak_skew_m},
                    {"held", std::string(row.held ? "yes" : "no")},
                    {"side", std::string(w.scenario.side == FaultySide::a ? "A" : "B")},
                    {"at_s", w.scenario.fault_s},
                    {"carriage_y_m", w.place->place.carriage_y_m},
                    {"payload_kg", w.place->place.payload_kg},
                    {"speed_m_per_s", w.place->move.peak_speed_m_per_s},
                    {"guide_moment_n_m", row.guide_moment_n_m}});
    put_or_none(rows.back(), "stopping_distance_m", row.stands ? std::optional(row.stop_way_m) : std::nullopt);
    put_or_none(rows.back(), "stopping_time_s", row.stands ? std::optional(row.stop_s) : std::nullopt);
    put_or_none(rows.back(), "latency_budget_s", row.latency_budget_s);
    rows.back().emplace_back("seen_by", to_text(row.seen_by));
    const auto after = [&](const char* key, std::optional<double> s) { put_or_none(rows.back(), key, s); };
    after("seen_after_s", row.seen_by == SeenBy::nothing ? std::nullopt : std::optional(row.seen_after_s));
    after("speed_trip_after_s", row.further.speed_s);
    after("force_trip_after_s", row.further.force_s);
    after("growing_skew_trip_after_s", row.further.growing_s);
  }
  return rows;
}

std::vector<base::Row> reaction_rows(const TripSettings& t) {
  std::vector<base::Row> rows;
  for (const ReactionRow& row : t.reactions) {
    rows.push_back({{"reaction", key_of(row.reaction)},
                    {"stop_category", static_cast<double>(stop_category(row.reaction))},
                    {"peak_skew_m", row.peak_skew_m},
                    {"by", to_text(row.by)},
                    {"past_guide_limit", static_cast<double>(row.beyond)},
                    {"not_held", static_cast<double>(row.unheld)},
                    {"one_side_off_peak_skew_m", row.one_side_off_peak_m}});
    put_or_none(rows.back(), "one_side_off_latency_budget_s", row.one_side_off_budget_s);
  }
  return rows;
}

std::vector<base::Row> service_rows(const std::vector<ServiceRow>& all) {
  std::vector<base::Row> rows;
  for (const ServiceRow& r : all)
    rows.push_back({{"quantity", r.quantity},
                    {"unit", r.unit},
                    {"value", r.value.value},
                    {"lower", r.value.lower},
                    {"upper", r.value.upper},
                    {"changed_below", r.low},
                    {"changed_above", r.high}});
  return rows;
}

void put_values(base::StationResult& r, const TripSettings& t, const TripsInput& input) {
  put(r, "skew_trip_m", t.skew_trip_m, "m");
  put(r, "following_error_trip_m", t.following_trip_m, "m");
  put(r, "speed_trip_m_per_s", t.further.speed_m_per_s, "m/s");
  put(r, "force_trip_a_n", t.further.force_a_n, "N");
  put(r, "force_trip_b_n", t.further.force_b_n, "N");
  put(r, "skew_trip_at_rest_m", t.further.skew.at_rest_m, "m");
  put(r, "skew_trip_per_speed_s", t.further.skew.per_speed_s, "s");
  put(r, "skew_trip_per_acceleration_s2", t.further.skew.per_acceleration_s2, "s^2");
  put(r, "trip_filter_s", t.further.filter_s, "s");
  r.values.emplace_back("reaction", Value{.value = key_of(t.reaction)});
  put(r, "latency_budget_s", t.latency_budget_s, "s");
  const Worst& w = t.faults[t.worst].worst;
  r.values.emplace_back("worst_fault", Value{.value = to_text(w.fault)});
  Value peak{.value = w.peak_skew_m, .unit = "m", .lower = w.peak_skew_m};
  if (t.bound.bounded) peak.upper = t.bound.peak_skew_m;
  r.values.emplace_back("worst_fault_peak_skew_m", peak);
  put(r, "nuisance_skew_m", t.ordinary.skew_m, "m");
  put(r, "damage_skew_m", t.damage_m, "m");
  put(r, "latency_s", t.latency_s, "s");
  put(r, "cross_trip_s", input.cross_trip_s, "s");
  put(r, "stopping_time_s", t.stop_s, "s");
  put(r, "stopping_distance_m", t.stop_way_m, "m");
  r.values.emplace_back("faults", Value{.value = fault_rows(t)});
  r.values.emplace_back("reactions", Value{.value = reaction_rows(t)});
}

bool moves_known(const TripsInput& input) { return !input.moves.empty(); }

void gather(const std::vector<Recording>& recordings, const machine::Machine& machine, TripsInput& input,
            std::vector<CapturedFault>& captured) {
  if (!moves_known(input)) input.moves = machine.moves;
  input.scatter = stroke_scatter(recordings);
  input.over_forecast = over_own_forecast(recordings, input.own_forecasts);
  for (const Recording& r : recordings) {
    if (r.kind == recording::RunKind::test_move && machine.moves.empty())
      if (const auto move = move_as_recorded(r)) input.moves.push_back(*move);
    if (r.kind != recording::RunKind::fault) continue;
    captured.push_back(captured_fault(r, machine, input.plant, never_s));
    const auto& cross = captured.back().cross_trip_s;
    if (cross) input.cross_trip_s = std::max(*cross, input.cross_trip_s.value_or(0));
  }
}

}  // namespace

std::optional<machine::PlannedMove> move_as_recorded(const Recording& r) {
  if (!has_references(r) || r.time_s.size() < 100 || !(r.period_s > 0)) return std::nullopt;
  const auto lag = std::max<size_t>(1, static_cast<size_t>(5e-3 / r.period_s));
  const auto ref = [&](size_t i) { return (r.reference_a_m[i] + r.reference_b_m[i]) / 2; };
  const double h = static_cast<double>(lag) * r.period_s;
  const auto [low, high] = std::minmax_element(r.reference_a_m.begin(), r.reference_a_m.end());
  machine::PlannedMove out{.name = r.name, .distance_m = *high - *low};
  // Means over three times 5 ms: a jerk is met whole where its phase lasts that long.
  for (size_t i = 0; i + 3 * lag < r.time_s.size(); ++i) {
    const double v0 = (ref(i + lag) - ref(i)) / h, v1 = (ref(i + 2 * lag) - ref(i + lag)) / h,
                 v2 = (ref(i + 3 * lag) - ref(i + 2 * lag)) / h;
    if (!std::isfinite(v0 + v1 + v2)) continue;
    out.speed_m_per_s = std::max(out.speed_m_per_s, std::abs(v0));
    out.acceleration_m_per_s2 = std::max(out.acceleration_m_per_s2, std::abs(v1 - v0) / h);
    out.jerk_m_per_s3 = std::max(out.jerk_m_per_s3, std::abs(v2 - 2 * v1 + v0) / (h * h));
  }
  if (!(out.distance_m > 1e-3 && out.speed_m_per_s > 1e-3 && out.acceleration_m_per_s2 > 1e-2 &&
        out.jerk_m_per_s3 > 0.1))
    return std::nullopt;
  return out;
}

base::StationOutcome trips_station(const std::vector<Recording>& recordings, const machine::Machine& machine,
                                   TripsInput input) {
  base::StationOutcome out;
  base::StationResult& result = out.result;
  result.name = "trips";
  std::vector<CapturedFault> captured;
  gather(recordings, machine, input, captured);
  const TripSettings t = trip_settings(machine, input);
  const double allowable = input.allowable_skew_m.value_or(0);
  if (t.done) {
    put_values(result, t, input);
    result.findings = {worst_finding(t, allowable), window_finding(t, input), reaction_finding(t), further_finding(t),
                       budget_finding(t),           unheld_finding(t),        stopping_finding(t)};
  } else {
    result.findings.push_back({.id = "trips_not_known",
                               .verdict = Verdict::not_done,
                               .text = "No trips can be set: " + t.why_not + ".",
                               .next = "Bring stations fit, limits and loops to an answer first."});
    put(result, "cross_trip_s", input.cross_trip_s, "s");
  }
  if (t.done)
    for (CapturedFault& c : captured)
      for (const Recording& r : recordings)
        if (r.name == c.recording) c.seen_s = captured_fault(r, machine, nullptr, t.skew_trip_m).seen_s;
  for (const CapturedFault& c : captured) result.findings.push_back(captured_finding(c, t, allowable));
  const std::vector<ServiceRow> service = service_baseline(input.service);
  if (!service.empty()) {
    result.findings.push_back(service_finding(service));
    result.values.emplace_back("service", Value{.value = service_rows(service)});
  }
  result.verdict = base::overall(result.findings);
  if (!t.done && result.verdict == Verdict::pass) result.verdict = Verdict::not_done;
  out.figures = trips_figures(t, captured, recordings, allowable, input.plant ? input.plant->stress_free_skew_m : 0);
  return out;
}

}  // namespace evenbeam::protection
