#include "cli/overview.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>
#include <ostream>

#include "base/program_fault.h"
#include "report/cautions.h"
#include "workflow/gates.h"

namespace evenbeam::cli {
namespace {

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

}  // namespace

void print_next(const workflow::NextStep& next, Console& console) {
  console.out << "next: " << wrapped(next.what, 6) << "\n";
  if (!next.why.empty()) console.out << "  why     " << wrapped(next.why, 10) << "\n";
  if (next.capture) print_capture(*next.capture, console);
  for (std::size_t i = 0; i < next.commands.size(); ++i)
    console.out << fmt::format("  {:<7} {}. {}\n", i == 0 ? "command" : "", i + 1, wrapped(next.commands[i], 13));
  if (!next.holds_back.empty()) console.out << "  until then held back: " << joined(next.holds_back) << "\n";
  if (!next.sharpen.empty()) console.out << "  sharper " << wrapped(next.sharpen, 10) << "\n";
  for (const std::string& caution : next.cautions) console.out << "  caution " << wrapped(caution, 10) << "\n";
}

void print_files(const workflow::Commissioned& done, Console& console) {
  for (const std::string& remark : done.remarks) console.out << "note: " << wrapped(remark, 6) << "\n";
  if (!done.accepted_by.empty()) console.out << "settings accepted by " << done.accepted_by << "\n";
  if (!done.report.empty()) console.out << "report: " << done.report << "\n";
}

void print_pdf(const workflow::CommissionRequest& request, workflow::Commissioned& done, ProgressLine& progress,
               Console& console) {
  const std::size_t remarks = done.remarks.size(), files = done.files.size();
  console.out.flush();
  progress("printing the report to PDF");
  workflow::print_report(request, done);
  for (std::size_t i = remarks; i < done.remarks.size(); ++i)
    console.out << "note: " << wrapped(done.remarks[i], 6) << "\n";
  for (std::size_t i = files; i < done.files.size(); ++i) console.out << "pdf: " << done.files[i] << "\n";
}

void print_overview(const workflow::Commissioned& done, Console& console) {
  const workflow::Evaluation& evaluation = done.evaluation;
  console.out << evaluation.job << "\n";
  for (const base::StationOutcome& outcome : evaluation.stations) {
    const base::StationResult& station = outcome.result;
    console.out << fmt::format("  {:<{}} {}  {}\n", station.name, kNameWidth,
                               verdict_word(station.verdict, console.colour),
                               wrapped(headline(station), kNameWidth + 14));
    for (const workflow::Override& one : workflow::overrides_of(evaluation, station))
      console.out << fmt::format("  {:<{}} {} overridden by {}: {}\n", "", kNameWidth, joined(one.findings), one.by,
                                 one.reason);
  }
  print_next(done.next, console);
  print_files(done, console);
  const auto& cautions = report::cautions();
  console.out << fmt::format("caution: {} ({} cautions in the report)\n", cautions.front().head, cautions.size());
}

int ended_with(const workflow::Evaluation& evaluation, Console& console) {
  for (const std::string& name : workflow::faulty_stations(evaluation))
    console.err << fmt::format("{}: {}\n", name,
                               base::program_fault(*workflow::find_station(evaluation, name))->text);
  return workflow::exit_code(evaluation);
}

}  // namespace evenbeam::cli
