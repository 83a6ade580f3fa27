#include "server/trial_data.h"

#include <nlohmann/json.hpp>

#include "server/page_data.h"

namespace evenbeam::server {

namespace {

using base::Json;

constexpr int trace_columns = 700;

// All channels of a run, over its whole length.
struct Trace {
  Json channels = Json::array();
  void add(const char* name, const char* unit, const std::vector<double>& x) {
    if (!x.empty()) add_channel(channels, name, unit, x, 0, x.size(), trace_columns);
  }
};

void put_span(Json& json, const std::vector<double>& time_s, Trace trace) {
  json["channels"] = std::move(trace.channels);
  if (time_s.empty()) return;
  json["from_s"] = time_s.front();
  json["to_s"] = time_s.back();
  json["samples"] = time_s.size();
}

Json consequence_json(const workflow::CommandSeen& seen, const machine::Machine& machine) {
  if (!seen.consequence) return {};
  const rehearsal::Consequence& c = *seen.consequence;
  Json json{{"what", c.what},
            {"words", rehearsal::in_words(c, machine.length_unit, machine.force_unit)},
            {"skew_m", c.skew_m},
            {"beyond", seen.beyond ? Json(*seen.beyond) : Json()}};
  Trace trace;
  trace.add("skew", "m", difference(c.series.true_a_m, c.series.true_b_m));
  trace.add("position A", "m", c.series.true_a_m);
  trace.add("position B", "m", c.series.true_b_m);
  trace.add("force A", "N", c.series.force_a_n);
  trace.add("force B", "N", c.series.force_b_n);
  put_span(json, c.series.time_s, std::move(trace));
  return json;
}

}  // namespace

Json forecast_json(const workflow::TriedSettings& t) {
  Json json{{"move", t.move},
            {"share", t.share},
            {"carriage_y_m", t.carriage_y_m},
            {"payload_kg", t.payload_kg},
            {"stable", t.stable},
            {"peak_sensitivity", finite(t.peak_sensitivity)},
            {"allowable_skew_m", finite(t.allowable_skew_m)},
            {"allowable_yaw_moment_n_m", finite(t.allowable_yaw_moment_n_m)}};
  if (!t.stable) return json;
  json["peak_skew_m"] = t.peak_skew_m;
  json["peak_force_part"] = t.peak_force_part;
  json["peak_guide_moment_n_m"] = t.peak_guide_moment_n_m;
  json["settle_s"] = finite(t.settle_s);
  Json channels = Json::array();
  if (!t.time_s.empty() && t.skew_error_m.size() == t.time_s.size()) {
    add_channel(channels, "skew error", "m", t.skew_error_m, 0, t.time_s.size(), 700);
    json["from_s"] = t.time_s.front();
    json["to_s"] = t.time_s.back();
  }
  json["channels"] = std::move(channels);
  return json;
}

Json fault_json(const workflow::TriedFault& t) {
  Json json{{"move", t.move},
            {"fault", t.fault},
            {"reaction", t.reaction},
            {"reached_standstill", t.reached_standstill},
            {"seen", t.seen},
            {"fault_s", t.fault_s},
            {"latency_s", t.latency_s},
            {"carriage_y_m", t.carriage_y_m},
            {"payload_kg", t.payload_kg},
            {"peak_skew_m", finite(t.peak_skew_m)},
            {"peak_at_s", finite(t.peak_at_s)},
            {"guide_moment_n_m", finite(t.guide_moment_n_m)},
            {"stop_way_m", finite(t.stop_way_m)},
            {"stop_s", finite(t.stop_s)},
            {"allowable_skew_m", finite(t.allowable_skew_m)},
            {"allowable_yaw_moment_n_m", finite(t.allowable_yaw_moment_n_m)},
            {"skew_trip_m", finite(t.skew_trip_m)},
            {"assumed", t.assumed}};
  Trace trace;
  trace.add("skew", "m", t.skew_m);
  trace.add("way", "m", t.way_m);
  trace.add("force A", "N", t.force_a_n);
  trace.add("force B", "N", t.force_b_n);
  put_span(json, t.time_s, std::move(trace));
  return json;
}

Json session_json(const workflow::SessionSeen& seen, const machine::Machine& machine) {
  Json commands = Json::array(), possible = Json::array();
  for (const workflow::CommandSeen& one : seen.commands)
    commands.push_back({{"operation", rehearsal::to_text(one.judged.step.operation)},
                        {"sides", rehearsal::to_text(one.judged.step.sides)},
                        {"right", one.judged.right},
                        {"text", one.judged.text},
                        {"before", rehearsal::to_text(one.judged.before)},
                        {"after", rehearsal::to_text(one.judged.after)},
                        {"consequence", consequence_json(one, machine)}});
  for (const workflow::PossibleCommand& one : seen.possible)
    possible.push_back({{"operation", rehearsal::to_text(one.operation)},
                        {"goes", rehearsal::to_text(one.rule.goes)},
                        {"reason", one.rule.reason},
                        {"instead", one.rule.instead}});
  return {{"fitted", seen.fitted},
          {"assumed", seen.assumed},
          {"commanding_side", seen.commanding_side_is_a ? "A" : "B"},
          {"state", rehearsal::to_text(rehearsal::state_of(seen.pair))},
          {"drive_a", rehearsal::to_text(seen.pair.drive_a)},
          {"drive_b", rehearsal::to_text(seen.pair.drive_b)},
          {"axis", rehearsal::to_text(seen.pair.axis)},
          {"commands", std::move(commands)},
          {"possible", std::move(possible)}};
}

}  // namespace evenbeam::server
