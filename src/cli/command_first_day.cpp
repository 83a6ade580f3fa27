#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/clock.h"
#include "base/json.h"
#include "cli/commands.h"
#include "cli/overview.h"
#include "report/pdf.h"
#include "workflow/as_json.h"
#include "workflow/first_day.h"

namespace evenbeam::cli {
namespace {

using base::Json;
using workflow::DayPlayed;

std::string text_of(const base::Row& row, const std::string& key) {
  for (const auto& [name, cell] : row)
    if (const auto* text = std::get_if<std::string>(&cell); name == key && text != nullptr) return *text;
  return "";
}

std::vector<std::pair<std::string, std::string>> gates_of(const workflow::Evaluation& evaluation) {
  std::vector<std::pair<std::string, std::string>> out;
  const base::StationResult* ready = workflow::find_station(evaluation, "ready");
  const base::Value* value = ready != nullptr ? base::find_value(*ready, "gates") : nullptr;
  const auto* rows = value != nullptr ? std::get_if<std::vector<base::Row>>(&value->value) : nullptr;
  for (const base::Row& row : rows != nullptr ? *rows : std::vector<base::Row>{})
    out.emplace_back(text_of(row, "gate"), text_of(row, "state"));
  return out;
}

void print_step(const DayPlayed& played, Console& console) {
  const auto row = [&](const char* name, const std::string& words) {
    console.out << fmt::format("  {:<7} {}\n", name, wrapped(words, 10));
  };
  console.out << fmt::format("{}  ", played.step.at) << wrapped(played.step.what, 7) << "\n";
  if (!played.step.wrong.empty()) row("wrong", played.step.wrong);
  if (played.caught) row("CAUGHT", fmt::format("{}: {}", played.step.caught_station, played.caught_words));
  if (!played.step.wrong.empty() && !played.caught) row("MISSED", "nothing held it back");
  std::string gates;
  for (const auto& [gate, state] : gates_of(played.done.evaluation))
    gates += fmt::format("{}{} {}", gates.empty() ? "" : ", ", gate, state);
  row("gates", gates);
  std::string line;
  for (const base::StationOutcome& outcome : played.done.evaluation.stations)
    if (outcome.result.verdict != base::Verdict::not_done)
      line += fmt::format("{}{} {}", line.empty() ? "" : ", ", outcome.result.name,
                          base::to_text(outcome.result.verdict));
  row("says", line);
  row("next", played.done.next.what);
}

Json step_json(const DayPlayed& played) {
  Json gates = Json::object(), verdicts = Json::object();
  for (const auto& [gate, state] : gates_of(played.done.evaluation)) gates[gate] = state;
  for (const base::StationOutcome& outcome : played.done.evaluation.stations)
    verdicts[outcome.result.name] = base::to_text(outcome.result.verdict);
  return {{"at", played.step.at},           {"what", played.step.what}, {"entry", played.done.entry},
          {"wrong", played.step.wrong},     {"caught", played.caught},  {"caught_by", played.step.caught_station},
          {"finding", played.caught_words}, {"gates", gates},           {"verdicts", verdicts},
          {"next", played.done.next.what}};
}

}  // namespace

int run_first_day(const std::string& folder, bool json, Console& console) {
  base::RealDisk disk;
  Json steps = Json::array();
  const auto after = [&](const DayPlayed& played) {
    if (json)
      steps.push_back(step_json(played));
    else
      print_step(played, console);
  };
  const workflow::CommissionRequest request{.places = workflow::places_of(folder),
                                            .program = program_name(),
                                            .time = base::utc_now(),
                                            .browser = report::find_browser()};
  ProgressLine progress(console);
  std::vector<DayPlayed> day = workflow::play_first_day(disk, request, after, progress);
  workflow::Commissioned& last = day.back().done;
  if (json) {
    workflow::print_report(request, last);
    console.out << base::to_text(Json{{"job", folder}, {"steps", steps}}) << "\n";
  } else {
    console.out << fmt::format("report: {}\n", last.report);
    print_pdf(request, last, progress, console);
  }
  int code = 0;
  for (const DayPlayed& played : day)
    if (code != kExitBug) code = ended_with(played.done.evaluation, console);
  return code;
}

}  // namespace evenbeam::cli
