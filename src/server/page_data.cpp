#include "server/page_data.h"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "journal/result_file.h"
#include "report/figure_maker.h"
#include "server/figure_data.h"
#include "workflow/as_json.h"
#include "workflow/gates.h"
#include "workflow/try_fault.h"
#include "workflow/try_settings.h"

namespace evenbeam::server {

namespace {

using base::Json;

Json figures_json(const workflow::Evaluation& evaluation) {
  Json out = Json::object();
  for (const base::StationOutcome& station : evaluation.stations) {
    Json list = Json::array();
    for (const base::Figure& figure : station.figures)
      list.push_back(
          {{"id", figure.id}, {"title", figure.title}, {"caption", figure.caption}, {"closer", has_numbers(figure)}});
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
                    {"carriage_y_m", finite(r.carriage_y_m)}});
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
          {"allowable_skew_m", finite(workflow::number_of(evaluation, "limits", "allowable_skew_m"))},
          {"peak_force_a_n", finite(machine.a.peak_force_n)},
          {"peak_force_b_n", finite(machine.b.peak_force_n)}};
}

}  // namespace

report::PersonUnits units_of(const machine::Machine& machine) {
  return {.length = machine.length_unit, .force = machine.force_unit};
}

// Half of a laptop's window, so that lettering is not made smaller than it is drawn.
constexpr double page_width = 500;

Json drawings_json(const workflow::Evaluation& evaluation, const std::string& station) {
  Json out = Json::object();
  for (const base::StationOutcome& outcome : evaluation.stations)
    if (outcome.result.name == station)
      for (const base::Figure& figure : outcome.figures)
        out[figure.id] = report::figure_svg(figure, {.units = units_of(evaluation.machine), .width = page_width});
  return out;
}

std::vector<double> difference(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> out(std::min(a.size(), b.size()));
  for (std::size_t i = 0; i < out.size(); ++i) out[i] = a[i] - b[i];
  return out;
}

Json finite(std::optional<double> value) { return value && std::isfinite(*value) ? Json(*value) : Json(); }

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
    low.push_back(finite(least));
    high.push_back(finite(most));
  }
  channels.push_back({{"name", name}, {"unit", unit}, {"low", std::move(low)}, {"high", std::move(high)}});
}

Json text_json(const workflow::JobText& text) {
  return {{"name", text.name}, {"text", text.content}, {"seen", text.sha256}, {"there", text.there}};
}

namespace {

// What can be tried, always on the last whole evaluation.
void put_trials(Json& json, const workflow::Evaluation& evaluation) {
  json["moves_to_try"] = workflow::moves_to_try(evaluation);
  json["moves_for_faults"] = workflow::moves_for_faults(evaluation);
  json["faults"] = workflow::faults_to_try(evaluation);
  json["reactions"] = workflow::reactions_to_try();
  json["can_try"] = evaluation.identified && evaluation.identified->plant_known && evaluation.settings;
}

}  // namespace

Json job_json(const Snapshot& snapshot, const std::string& doing) {
  Json json{{"revision", snapshot.revision}, {"doing", doing}, {"trouble", snapshot.trouble}};
  const auto newest = snapshot.so_far ? snapshot.so_far : snapshot.evaluation;
  if (!newest) return json;
  const workflow::Evaluation& evaluation = *newest;
  json["pending"] = evaluation.pending;
  json["job"] = evaluation.job;
  json["verdict"] = base::to_text(workflow::overall_verdict(evaluation));
  json["units"] = {{"length", evaluation.machine.length_unit}, {"force", evaluation.machine.force_unit}};
  json["result"] = journal::to_json(workflow::result_of(evaluation));
  json["next"] = workflow::to_json(workflow::next_step_so_far(evaluation, workflow::stations()));
  Json line = Json::array();
  for (const workflow::Station& station : workflow::stations())
    line.push_back({{"name", station.name},
                    {"question", station.question},
                    {"uses", station.uses},
                    {"open_stop", workflow::has_open_stop(evaluation, station.name)}});
  json["line"] = std::move(line);
  json["overrides"] = workflow::overrides_json(evaluation);
  json["figures"] = figures_json(evaluation);
  json["recordings"] = recordings_json(evaluation);
  json["bridge"] = bridge_json(evaluation);
  json["texts"] = workflow::job_text_names();
  put_trials(json, snapshot.evaluation ? *snapshot.evaluation : evaluation);
  return json;
}

namespace {

// The names and units of what the recording has, in the order shown.
std::vector<std::pair<const char*, const char*>> channels_of(const recording::Recording& r) {
  std::vector<std::pair<const char*, const char*>> all;
  if (recording::has_positions(r)) {
    all.push_back({"skew", "m"});
    if (recording::has_references(r)) all.push_back({"skew error", "m"});
    all.push_back({"position A", "m"});
    all.push_back({"position B", "m"});
  }
  if (recording::has_forces(r)) {
    all.push_back({"force A", "N"});
    all.push_back({"force B", "N"});
  }
  return all;
}

// Its values from sample `from` up to `to`.
std::vector<double> values_of(const recording::Recording& r, std::string_view name, std::size_t from,
                              std::size_t to) {
  const auto part = [&](const std::vector<double>& x) {
    return std::vector<double>(x.begin() + std::ptrdiff_t(from), x.begin() + std::ptrdiff_t(to));
  };
  if (name == "position A") return part(r.position_a_m);
  if (name == "position B") return part(r.position_b_m);
  if (name == "force A") return part(r.force_a_n);
  if (name == "force B") return part(r.force_b_n);
  std::vector<double> skew = difference(part(r.position_a_m), part(r.position_b_m));
  if (name == "skew") return skew;
  return difference(skew, difference(part(r.reference_a_m), part(r.reference_b_m)));
}

// Where the mark was latched in this recording, in its own positions; null where it was not.
Json last_latch(const std::vector<double>& latched) {
  for (std::size_t i = latched.size(); i-- > 0;)
    if (std::isfinite(latched[i])) return latched[i];
  return {};
}

}  // namespace

Json trace_json(const workflow::Evaluation& evaluation, const std::string& name, const TraceWanted& wanted) {
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
  std::size_t from = place(wanted.from_s), to = std::min(r.time_s.size(), place(wanted.to_s) + 1);
  if (!(wanted.to_s > wanted.from_s) || from + 2 > to) from = 0, to = r.time_s.size();
  Json channels = Json::array();
  for (const auto& [channel, unit] : channels_of(r))
    if (wanted.channel.empty() || wanted.channel == channel)
      add_channel(channels, channel, unit, values_of(r, channel, from, to), 0, to - from,
                  std::clamp(wanted.columns, 2, 4000));
  return {{"recording", r.name},
          {"from_s", r.time_s[from]},
          {"to_s", r.time_s[to - 1]},
          {"samples", to - from},
          {"mark_a_m", last_latch(r.latched_a_m)},
          {"mark_b_m", last_latch(r.latched_b_m)},
          {"channels", std::move(channels)}};
}

}  // namespace evenbeam::server
