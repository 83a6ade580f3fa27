#include "report/report.h"

#include <fmt/format.h>

#include "base/program_fault.h"
#include "report/html.h"
#include "report/page.h"
#include "report/text.h"

namespace evenbeam::report {

base::Verdict job_verdict(const std::vector<base::StationOutcome>& stations) {
  base::Verdict verdict = base::Verdict::not_done;
  for (const base::StationOutcome& s : stations) verdict = base::worse(verdict, base::part_in_whole(s.result));
  return verdict;
}

PersonUnits person_units(const ReportInput& input) { return {input.machine.length_unit, input.machine.force_unit}; }

const base::Finding* deciding(const base::StationResult& station) {
  for (const base::Finding& f : station.findings)
    if (f.verdict == station.verdict) return &f;
  return station.findings.empty() ? nullptr : &station.findings.front();
}

std::string report_html(const ReportInput& input, const Words& words) {
  const std::string name = input.machine.name.empty() ? input.job : input.machine.name;
  // Nothing may be loaded from anywhere, whatever a text contains.
  const std::string head =
      "<meta charset=\"utf-8\"/>\n<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
      "style-src 'unsafe-inline'\"/>\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n" +
      text_element("title", fmt::format("{}: {}", words.record, name)) + "\n" + element("style", page_css(input)) +
      "\n";
  const std::string body =
      element("main", "\n" + sign_part(input, words) + engineer_part(input, words) + repeat_part(input, words));
  return fmt::format("<!DOCTYPE html>\n<html lang=\"{}\">\n<head>\n{}</head>\n<body>\n{}\n</body>\n</html>\n",
                     words.language, head, body);
}

}  // namespace evenbeam::report
