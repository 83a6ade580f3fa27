#include "cli/overview.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "report/cautions.h"
#include "workflow/gates.h"

namespace evenbeam::cli {
namespace {

using base::Json;

constexpr std::size_t kNameWidth = 11;  // "recordings" and a blank

// The finding that gave the station its verdict says it in one line.
std::string headline(const base::StationResult& station) {
  for (const base::Finding& finding : station.findings)
    if (finding.verdict == station.verdict) return first_sentence(finding.text);
  return "";
}

std::string joined(const std::vector<std::string>& words) { return fmt::format("{}", fmt::join(words, ", ")); }

void print_capture(const workflow::CaptureSheet& sheet, Console& console) {
  const std::pair<const char*, const std::string&> rows[] = {{"side", sheet.side},
                                                             {"level", sheet.level},
                                                             {"time", sheet.duration},
                                                             {"record", sheet.record},
                                                             {"watch", sheet.watch}};
  for (const auto& [name, words] : rows) console.out << fmt::format("  {:<7} {}\n", name, wrapped(words, 10));
}

Json words_json(const std::vector<std::string>& words) {
  Json json = Json::array();
  for (const std::string& one : words) json.push_back(one);
  return json;
}

Json overrides_json(const workflow::Evaluation& evaluation) {
  Json json = Json::array();
  for (const workflow::Override& one : evaluation.overrides)
    json.push_back(Json{{"station", one.station}, {"reason", one.reason}, {"by", one.by}});
  return json;
}

const char* kind_word(workflow::NextStep::Kind kind) {
  using Kind = workflow::NextStep::Kind;
  switch (kind) {
    case Kind::answer_stop:
      return "answer_stop";
    case Kind::make_capture:
      return "make_capture";
    case Kind::answer_attention:
      return "answer_attention";
    case Kind::accept_settings:
      return "accept_settings";
    case Kind::nothing:
      break;
  }
  return "nothing";
}

}  // namespace

void print_next(const workflow::NextStep& next, Console& console) {
  console.out << "next: " << wrapped(next.what, 6) << "\n";
  if (!next.why.empty()) console.out << "  why     " << wrapped(next.why, 10) << "\n";
  if (next.capture) print_capture(*next.capture, console);
  if (!next.holds_back.empty()) console.out << "  until then held back: " << joined(next.holds_back) << "\n";
  for (const std::string& caution : next.cautions) console.out << "  caution " << wrapped(caution, 10) << "\n";
}

void print_files(const workflow::Commissioned& done, Console& console) {
  for (const std::string& remark : done.remarks) console.out << "note: " << wrapped(remark, 6) << "\n";
  if (!done.accepted_by.empty()) console.out << "settings accepted by " << done.accepted_by << "\n";
  if (!done.report.empty()) console.out << "report: " << done.report << "\n";
}

void print_overview(const workflow::Commissioned& done, Console& console) {
  const workflow::Evaluation& evaluation = done.evaluation;
  console.out << evaluation.job << "\n";
  for (const base::StationOutcome& outcome : evaluation.stations) {
    const base::StationResult& station = outcome.result;
    console.out << fmt::format("  {:<{}} {}  {}\n", station.name, kNameWidth,
                               verdict_word(station.verdict, console.colour),
                               wrapped(headline(station), kNameWidth + 14));
    if (const workflow::Override* one = workflow::override_of(evaluation, station))
      console.out << fmt::format("  {:<{}} overridden by {}: {}\n", "", kNameWidth, one->by, one->reason);
  }
  print_next(done.next, console);
  print_files(done, console);
  const auto& cautions = report::cautions();
  console.out << fmt::format("caution: {} ({} cautions in the report)\n", cautions.front().head, cautions.size());
}

Json to_json(const workflow::NextStep& next) {
  Json json{{"kind", kind_word(next.kind)}, {"station", next.station}, {"what", next.what}, {"why", next.why}};
  json["holds_back"] = words_json(next.holds_back);
  json["capture"] = Json();
  if (next.capture) {
    const workflow::CaptureSheet& c = *next.capture;
    json["capture"] = Json{{"move", c.move},         {"side", c.side},     {"level", c.level},
                           {"duration", c.duration}, {"record", c.record}, {"watch", c.watch}};
  }
  json["cautions"] = words_json(next.cautions);
  return json;
}

Json to_json(const workflow::Commissioned& done) {
  const base::Verdict verdict = workflow::overall_verdict(done.evaluation);
  return Json{{"verdict", base::to_text(verdict)},
              {"exit_code", workflow::exit_code(verdict)},
              {"result", journal::to_json(workflow::result_of(done.evaluation))},
              {"overrides", overrides_json(done.evaluation)},
              {"next", to_json(done.next)},
              {"entry", done.entry},
              {"accepted_by", done.accepted_by.empty() ? Json() : Json(done.accepted_by)},
              {"files", words_json(done.files)},
              {"report", done.report},
              {"remarks", words_json(done.remarks)}};
}

}  // namespace evenbeam::cli
