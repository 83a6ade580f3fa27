#include "journal/record.h"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "base/program_fault.h"

namespace evenbeam::journal {
namespace {

using base::Json;

Json override_json(const Override& one) {
  Json findings = Json::array();
  for (const std::string& id : one.findings) findings.push_back(id);
  return Json{{"station", one.station}, {"reason", one.reason}, {"by", one.by}, {"findings", findings}};
}

Override override_from(const Json& json) {
  return {.station = json.at("station").get<std::string>(),
          .reason = json.at("reason").get<std::string>(),
          .by = json.at("by").get<std::string>(),
          .findings = json.at("findings").get<std::vector<std::string>>()};
}

std::string place_of(const Entry& entry) { return fmt::format("journal entry {}", entry.number); }

// Runs `reading` on the body of an entry that must be of `kind`.
template <class Reading>
auto read_body(const Entry& entry, const std::string& kind, Reading reading) {
  const std::string place = place_of(entry);
  if (entry.kind != kind)
    throw base::InputError({.file = place,
                            .found = fmt::format("an entry of kind '{}'", entry.kind),
                            .expected = fmt::format("one of kind '{}'", kind),
                            .next = "`evenbeam history DIR` lists the entries."});
  try {
    return reading(base::parse_json(entry.body, place));
  } catch (const Json::exception& error) {
    throw base::InputError({.file = place,
                            .found = fmt::format("a body that lacks a key ({})", error.what()),
                            .expected = "the keys of docs/formats.md",
                            .next = "`evenbeam history DIR --verify` tells whether it was changed."});
  }
}

base::Verdict worst(const Result& result) {
  base::Verdict verdict = base::Verdict::not_done;
  for (const base::StationResult& station : result.stations)
    verdict = base::worse(verdict, base::part_in_whole(station));
  return verdict;
}

}  // namespace

std::string to_body(const EvaluationRecord& record) {
  Json overrides = Json::array();
  for (const Override& one : record.overrides) overrides.push_back(override_json(one));
  return base::to_line(Json{{"program", record.program},
                            {"result", to_json(record.result)},
                            {"result_sha256", record.result_sha256},
                            {"settings_toml", record.settings_toml},
                            {"overrides", overrides}});
}

std::string to_body(const Override& one) { return base::to_line(override_json(one)); }

std::string to_body(const Acceptance& acceptance) {
  return base::to_line(Json{
      {"by", acceptance.by}, {"evaluation", acceptance.evaluation}, {"settings_toml", acceptance.settings_toml}});
}

EvaluationRecord evaluation_of(const Entry& entry) {
  return read_body(entry, "evaluation", [&](const Json& json) {
    EvaluationRecord record{.program = json.at("program").get<std::string>(),
                            .result = result_of(json.at("result"), place_of(entry)),
                            .result_sha256 = json.at("result_sha256").get<std::string>(),
                            .settings_toml = json.at("settings_toml").get<std::string>()};
    for (const Json& one : json.at("overrides")) record.overrides.push_back(override_from(one));
    return record;
  });
}

Override override_of(const Entry& entry) { return read_body(entry, "override", override_from); }

Acceptance acceptance_of(const Entry& entry) {
  return read_body(entry, "acceptance", [](const Json& json) {
    return Acceptance{.by = json.at("by").get<std::string>(),
                      .evaluation = json.at("evaluation").get<long>(),
                      .settings_toml = json.at("settings_toml").get<std::string>()};
  });
}

bool covers(const Override& one, const std::string& station, const std::string& finding) {
  return one.station == station && std::find(one.findings.begin(), one.findings.end(), finding) != one.findings.end();
}

void add_override(Override one, std::vector<Override>& overrides) {
  std::erase_if(overrides, [&](const Override& older) {
    return older.station == one.station &&
           std::all_of(older.findings.begin(), older.findings.end(),
                       [&](const std::string& id) { return covers(one, one.station, id); });
  });
  overrides.push_back(std::move(one));
}

std::vector<Override> overrides_of(const std::vector<Entry>& entries) {
  std::vector<Override> overrides;
  for (const Entry& entry : entries) {
    if (entry.kind != "override") continue;
    add_override(override_of(entry), overrides);
  }
  return overrides;
}

std::string headline(const Entry& entry) {
  if (entry.kind == "evaluation") {
    const EvaluationRecord record = evaluation_of(entry);
    return fmt::format("{} by {}, {} inputs", base::to_text(worst(record.result)), record.program,
                       record.result.inputs.size());
  }
  if (entry.kind == "override") {
    const Override one = override_of(entry);
    return fmt::format("{} set the stop of {} aside: {}", one.by, one.station, one.reason);
  }
  if (entry.kind == "acceptance") {
    const Acceptance acceptance = acceptance_of(entry);
    return fmt::format("{} accepted the settings of entry {}", acceptance.by, acceptance.evaluation);
  }
  return "";
}

}  // namespace evenbeam::journal
