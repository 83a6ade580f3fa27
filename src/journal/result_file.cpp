#include "journal/result_file.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "base/input_error.h"

namespace evenbeam::journal {
namespace {

using base::Json;

Json number(double value) { return std::isfinite(value) ? Json(value) : Json(); }
Json number(const std::optional<double>& value) { return value ? number(*value) : Json(); }
Json text(const std::string& words) { return words.empty() ? Json() : Json(words); }

Json row_json(const base::Row& row) {
  Json json = Json::object();
  for (const auto& [key, cell] : row)
    json[key] =
        std::holds_alternative<double>(cell) ? number(std::get<double>(cell)) : Json(std::get<std::string>(cell));
  return json;
}

struct ValueToJson {
  Json operator()(std::monostate) const { return {}; }
  Json operator()(double value) const { return number(value); }
  Json operator()(const std::string& words) const { return words; }
  Json operator()(const std::vector<double>& list) const {
    Json json = Json::array();
    for (double value : list) json.push_back(number(value));
    return json;
  }
  Json operator()(const std::vector<base::Row>& rows) const {
    Json json = Json::array();
    for (const base::Row& row : rows) json.push_back(row_json(row));
    return json;
  }
};

Json value_json(const base::Value& value) {
  return Json{{"value", std::visit(ValueToJson{}, value.value)},
              {"unit", value.unit},
              {"lower", number(value.lower)},
              {"upper", number(value.upper)},
              {"level", number(value.level)}};
}

Json finding_json(const base::Finding& f) {
  return Json{{"id", f.id},
              {"verdict", base::to_text(f.verdict)},
              {"text", f.text},
              {"value", number(f.value)},
              {"unit", text(f.unit)},
              {"lower", number(f.lower)},
              {"upper", number(f.upper)},
              {"limit", number(f.limit)},
              {"source", text(f.source)},
              {"recording", text(f.recording)},
              {"from_s", number(f.from_s)},
              {"to_s", number(f.to_s)},
              {"next", text(f.next)}};
}

Json station_json(const base::StationResult& station) {
  Json findings = Json::array();
  for (const base::Finding& finding : station.findings) findings.push_back(finding_json(finding));
  Json values = Json::object();
  for (const auto& [key, value] : station.values) values[key] = value_json(value);
  return Json{{"verdict", base::to_text(station.verdict)}, {"findings", findings}, {"values", values}};
}

std::optional<double> number_of(const Json& json) {
  return json.is_null() ? std::nullopt : std::optional<double>(json.get<double>());
}
std::string text_of(const Json& json) { return json.is_null() ? std::string() : json.get<std::string>(); }
double number_or_nan(const Json& json) { return number_of(json).value_or(std::numeric_limits<double>::quiet_NaN()); }

base::Row row_of(const Json& json) {
  base::Row row;
  for (const auto& [key, cell] : json.items())
    row.emplace_back(key, cell.is_string() ? base::Cell(cell.get<std::string>()) : base::Cell(number_or_nan(cell)));
  return row;
}

base::Value value_of(const Json& json) {
  base::Value value{.unit = text_of(json.at("unit")),
                    .lower = number_of(json.at("lower")),
                    .upper = number_of(json.at("upper")),
                    .level = json.at("level").get<double>()};
  const Json& inner = json.at("value");
  if (inner.is_string()) value.value = inner.get<std::string>();
  if (inner.is_number()) value.value = inner.get<double>();
  if (!inner.is_array()) return value;
  if (!inner.empty() && inner[0].is_object()) {
    std::vector<base::Row> rows;
    for (const Json& row : inner) rows.push_back(row_of(row));
    value.value = rows;
  } else {
    std::vector<double> list;
    for (const Json& item : inner) list.push_back(number_or_nan(item));
    value.value = list;
  }
  return value;
}

base::Verdict verdict_of(const std::string& words) {
  using enum base::Verdict;
  for (base::Verdict verdict : {pass, attention, stop, not_done})
    if (base::to_text(verdict) == words) return verdict;
  throw base::InputError(
      {.found = fmt::format("the verdict '{}'", words), .expected = "pass, attention, stop or not done"});
}

base::Finding finding_of(const Json& json) {
  return {.id = json.at("id").get<std::string>(),
          .verdict = verdict_of(json.at("verdict").get<std::string>()),
          .text = json.at("text").get<std::string>(),
          .value = number_of(json.at("value")),
          .unit = text_of(json.at("unit")),
          .lower = number_of(json.at("lower")),
          .upper = number_of(json.at("upper")),
          .limit = number_of(json.at("limit")),
          .source = text_of(json.at("source")),
          .recording = text_of(json.at("recording")),
          .from_s = number_of(json.at("from_s")),
          .to_s = number_of(json.at("to_s")),
          .next = text_of(json.at("next"))};
}

base::StationResult station_of(const std::string& name, const Json& json) {
  base::StationResult station{.name = name, .verdict = verdict_of(json.at("verdict").get<std::string>())};
  for (const Json& finding : json.at("findings")) station.findings.push_back(finding_of(finding));
  for (const auto& [key, value] : json.at("values").items()) station.values.emplace_back(key, value_of(value));
  return station;
}

}  // namespace

Json to_json(const Result& result) {
  Json inputs = Json::array();
  for (const InputFile& input : result.inputs)
    inputs.push_back(Json{{"file", input.file}, {"sha256", text(input.sha256)}});
  Json stations = Json::object();
  for (const base::StationResult& station : result.stations) stations[station.name] = station_json(station);
  return Json{{"schema", kResultSchema}, {"job", result.job}, {"inputs", inputs}, {"stations", stations}};
}

Result result_of(const Json& json, const std::string& file) {
  if (!json.is_object() || json.value("schema", "") != kResultSchema)
    throw base::InputError(
        {.file = file,
         .found = json.is_object() ? fmt::format("schema '{}'", json.value("schema", "")) : "no object",
         .expected = fmt::format("schema '{}'", kResultSchema),
         .next = "Run `evenbeam commission` again; results can always be made anew."});
  try {
    Result result{.job = json.at("job").get<std::string>()};
    for (const Json& input : json.at("inputs"))
      result.inputs.push_back({input.at("file").get<std::string>(), text_of(input.at("sha256"))});
    for (const auto& [name, station] : json.at("stations").items())
      result.stations.push_back(station_of(name, station));
    return result;
  } catch (const Json::exception& error) {
    throw base::InputError({.file = file,
                            .found = fmt::format("a key missing or of another kind ({})", error.what()),
                            .expected = "the keys of docs/formats.md",
                            .next = "Run `evenbeam commission` again; results can always be made anew."});
  }
}

std::string to_text(const Result& result) { return base::to_text(to_json(result)) + "\n"; }

Result read_result(std::string_view text, const std::string& file) {
  return result_of(base::parse_json(text, file), file);
}

}  // namespace evenbeam::journal
