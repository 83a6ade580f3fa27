#include "server/page_data.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "journal/result_file.h"
#include "report/figure_maker.h"
#include "workflow/as_json.h"
#include "workflow/gates.h"

namespace evenbeam::server {

namespace {

using base::Json;

Json number(std::optional<double> value) { return value && std::isfinite(*value) ? Json(*value) : Json(); }

report::PersonUnits units_of(const machine::Machine& machine) {
  return {.length = machine.length_unit, .force = machine.force_unit};
}

Json figures_json(const workflow::Evaluation& evaluation) {
  Json out = Json::object();
  for (const base::StationOutcome& station : evaluation.stations) {
    Json list = Json::array();
    for (const base::Figure& figure : station.figures)
      list.push_back({{"id", figure.id},
                      {"title", figure.title},
                      {"caption", figure.caption},
                      {"svg", report::figure_svg(figure, {.units = units_of(evaluation.machine)})}});
    out[station.result.name] = std::move(list);
  }
  return out;
}

Json recordings_json(const workflow::Evaluation& evaluation) {
  Json list = Json::array();
  for (const recording::Recording& r : evaluation.recordings) {
    if (r.time_s.empty()) continue;
    list.push_back({{"name", r.name},
                    {"kind", recording::to_text(r.kind)},
                    {"from_s", r.time_s.front()},
                    {"to_s", r.time_s.back()},
                    {"samples", r.time_s.size()},
                    {"carriage_y_m", number(r.carriage_y_m)}});
  }
  return list;
}

// What the drawing of the bridge needs; numbers that stations found, none computed here.
Json bridge_json(const workflow::Evaluation& evaluation) {
  const machine::Machine& machine = evaluation.machine;
  const machine::CarriageRange range = machine::carriage_range(machine);
  return {{"span_m", machine.span_m},
          {"carriage_min_y_m", range.min_y_m},
          {"carriage_max_y_m", range.max_y_m},
          {"carriage_range_assumed", range.assumed},
          {"allowable_skew_m", number(workflow::number_of(evaluation, "limits", "allowable_skew_m"))},
          {"peak_force_a_n", number(machine.a.peak_force_n)},
          {"peak_force_b_n", number(machine.b.peak_force_n)}};
}

void add_channel(Json& channels, const char* name, const char* unit, const std::vector<double>& x, std::size_t from,
                 std::size_t to, int columns) {
  Json low = Json::array(), high = Json::array();
  const std::size_t count = std::min<std::size_t>(std::size_t(columns), to - from);
  for (std::size_t c = 0; c < count; ++c) {
    const std::size_t begin = from + c * (to - from) / count, end = from + (c + 1) * (to - from) / count;
    double least = INFINITY, most = -INFINITY;
    for (std::size_t i = begin; i < end; ++i) {
      if (!std::isfinite(x[i])) continue;
      least = std::min(least, x[i]);
      most = std::max(most, x[i]);
    }
    low.push_back(number(least));
    high.push_back(number(most));
  }
  channels.push_back({{"name", name}, {"unit", unit}, {"low", std::move(low)}, {"high", std::move(high)}});
}

std::vector<double> difference(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> out(a.size());
  for (std::size_t i = 0; i < a.size(); ++i) out[i] = a[i] - b[i];
  return out;
}

}  // namespace

Json job_json(const Snapshot& snapshot, const std::string& doing) {
  Json json{{"revision", snapshot.revision}, {"doing", doing}, {"trouble", snapshot.trouble}};
  if (!snapshot.evaluation) return json;
  const workflow::Evaluation& evaluation = *snapshot.evaluation;
  json["job"] = evaluation.job;
  json["verdict"] = base::to_text(workflow::overall_verdict(evaluation));
  json["units"] = {{"length", evaluation.machine.length_unit}, {"force", evaluation.machine.force_unit}};
  json["result"] = journal::to_json(workflow::result_of(evaluation));
  json["next"] = workflow::to_json(workflow::next_step(evaluation, workflow::stations()));
  Json line = Json::array();
  for (const workflow::Station& station : workflow::stations())
    line.push_back({{"name", station.name},
                    {"question", station.question},
                    {"open_stop", workflow::has_open_stop(evaluation, station.name)}});
  json["line"] = std::move(line);
  json["overrides"] = workflow::overrides_json(evaluation);
  json["figures"] = figures_json(evaluation);
  json["recordings"] = recordings_json(evaluation);
  json["bridge"] = bridge_json(evaluation);
  json["moves_to_try"] = workflow::moves_to_try(evaluation);
  json["can_try"] = evaluation.identified && evaluation.identified->plant_known && evaluation.settings;
  return json;
}

Json trace_json(const workflow::Evaluation& evaluation, const std::string& name, double from_s, double to_s,
                int columns) {
  const auto found = std::find_if(evaluation.recordings.begin(), evaluation.recordings.end(),
                                  [&](const recording::Recording& r) { return r.name == name; });
  if (found == evaluation.recordings.end())
    throw base::InputError({.file = name,
                            .found = "no recording of that name",
                            .expected = "one of this job",
                            .next = "Choose it from the list."});
  const recording::Recording& r = *found;
  const auto place = [&](double t) {
    return std::size_t(std::lower_bound(r.time_s.begin(), r.time_s.end(), t) - r.time_s.begin());
  };
  std::size_t from = place(from_s), to = std::min(r.time_s.size(), place(to_s) + 1);
  if (!(to_s > from_s) || from + 2 > to) from = 0, to = r.time_s.size();
  columns = std::clamp(columns, 2, 4000);
  Json channels = Json::array();
  const bool positions = recording::has_positions(r);
  if (positions) {
    const std::vector<double> skew = difference(r.position_a_m, r.position_b_m);
    add_channel(channels, "skew", "m", skew, from, to, columns);
    if (recording::has_references(r))
      add_channel(channels, "skew error", "m", difference(skew, difference(r.reference_a_m, r.reference_b_m)), from,
                  to, columns);
    add_channel(channels, "position A", "m", r.position_a_m, from, to, columns);
    add_channel(channels, "position B", "m", r.position_b_m, from, to, columns);
  }
  if (recording::has_forces(r)) {
    add_channel(channels, "force A", "N", r.force_a_n, from, to, columns);
    add_channel(channels, "force B", "N", r.force_b_n, from, to, columns);
  }
  return {{"recording", r.name},
          {"from_s", r.time_s[from]},
          {"to_s", r.time_s[to - 1]},
          {"samples", to - from},
          {"channels", std::move(channels)}};
}

Json forecast_json(const workflow::TriedSettings& t) {
  Json json{{"move", t.move},
            {"share", t.share},
            {"carriage_y_m", t.carriage_y_m},
            {"payload_kg", t.payload_kg},
            {"stable", t.stable},
            {"peak_sensitivity", number(t.peak_sensitivity)},
            {"allowable_skew_m", number(t.allowable_skew_m)},
            {"allowable_yaw_moment_n_m", number(t.allowable_yaw_moment_n_m)}};
  if (!t.stable) return json;
  json["peak_skew_m"] = t.peak_skew_m;
  json["peak_force_part"] = t.peak_force_part;
  json["peak_guide_moment_n_m"] = t.peak_guide_moment_n_m;
  json["settle_s"] = number(t.settle_s);
  Json channels = Json::array();
  if (!t.time_s.empty() && t.skew_error_m.size() == t.time_s.size()) {
    add_channel(channels, "skew error", "m", t.skew_error_m, 0, t.time_s.size(), 700);
    json["from_s"] = t.time_s.front();
    json["to_s"] = t.time_s.back();
  }
  json["channels"] = std::move(channels);
  return json;
}

}  // namespace evenbeam::server
