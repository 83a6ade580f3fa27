// The engineer's part: each station with its answer, its figures, its findings and numbers, its next step.
#include <fmt/format.h>

#include <algorithm>

#include "report/bridge_drawing.h"
#include "report/figure_maker.h"
#include "report/html.h"
#include "report/page.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

std::string span_text(const base::Finding& f, const Words& words) {
  if (!f.from_s && !f.to_s) return f.recording;
  std::string out = f.recording + ", ";
  if (f.from_s) out += trimmed(*f.from_s, 6) + " ";
  if (f.from_s && f.to_s) out += std::string(words.to) + " ";
  if (f.to_s) out += trimmed(*f.to_s, 6) + " ";
  return out + std::string(words.seconds);
}

// "found 0.042 mm (0.040 to 0.044) · limit 0.3 mm, guide rating · seen in 06.csv, 1.2 to 3.4 s"
std::string evidence_line(const base::Finding& f, const PersonUnits& units, const Words& words) {
  const ShownUnit unit = shown_unit(f.unit, units);
  std::vector<std::string> parts;
  if (f.value) {
    std::string text = with_unit(shown_number(*f.value, unit, f.lower, f.upper), unit);
    if (f.lower && f.upper)
      text += fmt::format(" (95 %: {} {} {})", shown_number(*f.lower, unit, f.lower, f.upper), words.to,
                          shown_number(*f.upper, unit, f.lower, f.upper));
    parts.push_back(text_element("i", words.measured) + " " + escape(text));
  }
  std::string limit = f.limit ? with_unit(shown_number(*f.limit, unit), unit) : "";
  if (!f.source.empty()) limit += (limit.empty() ? "" : ", ") + f.source;
  if (!limit.empty()) parts.push_back(text_element("i", f.limit ? words.limit : words.method) + " " + escape(limit));
  if (!f.recording.empty()) parts.push_back(text_element("i", words.evidence) + " " + escape(span_text(f, words)));
  std::string out;
  for (const std::string& part : parts) out += element("span", part);
  return out.empty() ? "" : element("p", out, "class=\"evidence\"");
}

// The answer's own text is not said again where it is the only finding.
std::string finding_list(const base::StationResult& station, const PersonUnits& units, const Words& words) {
  if (station.findings.size() == 1) return evidence_line(station.findings[0], units, words);
  std::string items;
  for (const base::Finding& f : station.findings)
    items += element("li", element("p", verdict_mark(f.verdict, words, false) + " " + escape(f.text)) +
                               evidence_line(f, units, words)) +
             "\n";
  return items.empty() ? "" : element("ul", items, "class=\"findings\"") + "\n";
}

std::string figure_block(const base::Figure& figure, int number, const PersonUnits& units, const Words& words) {
  const std::string id = fmt::format("figure-{}", number);
  const std::string svg = figure_svg(figure, {units, 680, id + "-"});
  if (svg.empty()) return "";
  const std::string caption =
      text_element("b", fmt::format("{} {}. {}", words.figure, number, figure.title)) + " " + escape(figure.caption);
  return element("figure", element("figcaption", caption) + "\n" + svg, fmt::format("id=\"{}\"", id)) + "\n";
}

std::string next_steps(const base::StationResult& station, const Words& words) {
  std::vector<std::string> steps;
  for (const base::Finding& f : station.findings)
    if (!f.next.empty() && std::find(steps.begin(), steps.end(), f.next) == steps.end()) steps.push_back(f.next);
  std::string out;
  for (const std::string& step : steps)
    out += element("p", text_element("b", words.next) + " " + escape(step), "class=\"next\"");
  return out;
}

std::string station_section(const base::StationOutcome& s, int& figure_number, const ReportInput& input,
                            const Words& words) {
  const PersonUnits units = person_units(input);
  const std::string_view asked = question(words, s.result.name);
  std::string out =
      element("h3", element("span", text_element("span", s.result.name, "class=\"name\"") + " " + escape(asked)) +
                        verdict_mark(s.result.verdict, words)) +
      "\n";
  if (const base::Finding* finding = deciding(s.result))
    out += text_element("p", finding->text, "class=\"answer\"") + "\n";
  for (const base::Figure& figure : s.figures)
    if (const std::string block = figure_block(figure, figure_number, units, words); !block.empty())
      out += block, ++figure_number;
  out += finding_list(s.result, units, words);
  out += value_tables(s.result, input, words) + next_steps(s.result, words);
  return element("section", "\n" + out, fmt::format("class=\"station\" id=\"station-{}\"", id_text(s.result.name))) +
         "\n";
}

// Nothing to show but what is missing: one line in a common table.
bool only_missing(const base::StationOutcome& s) {
  return s.result.verdict == base::Verdict::not_done && s.figures.empty() && s.result.values.empty();
}

std::string missing_table(const ReportInput& input, const Words& words) {
  std::vector<std::vector<std::string>> body;
  for (const base::StationOutcome& s : input.stations) {
    if (!only_missing(s)) continue;
    const std::string id = fmt::format("id=\"station-{}\"", id_text(s.result.name));
    std::string why;
    for (const base::Finding& f : s.result.findings) why += text_element("p", f.text);
    body.push_back({text_element("b", s.result.name, id) + " " + escape(question(words, s.result.name)),
                    why + next_steps(s.result, words)});
  }
  if (body.empty()) return "";
  const std::string head =
      element("h3", escape(words.stations_not_done) + " " + verdict_mark(base::Verdict::not_done, words));
  return element("section", head + table({{words.station}, {words.why}}, body, "missing"), "class=\"station\"") +
         "\n";
}

}  // namespace

std::string engineer_part(const ReportInput& input, const Words& words) {
  const PersonUnits units = person_units(input);
  std::string out = text_element("h2", words.part_engineer, "class=\"part-head\"");
  if (input.machine.span_m > 0) {
    const std::string caption = text_element("b", words.attitude) + " " + escape(words.drawn_to_scale);
    out += element("figure", element("figcaption", caption) + "\n" +
                                 bridge_svg(bridge_view(input.machine), {units, 680, "machine-"}));
  }
  int figure_number = 1;
  for (const base::StationOutcome& s : input.stations)
    if (!only_missing(s)) out += station_section(s, figure_number, input, words);
  out += missing_table(input, words);
  return element("section", "\n" + out, "class=\"part\" id=\"engineer\"") + "\n";
}

}  // namespace evenbeam::report
