// One page for the person who signs.
#include <fmt/format.h>

#include "report/cautions.h"
#include "report/html.h"
#include "report/page.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

std::string counts(const std::vector<base::StationOutcome>& stations, const Words& words) {
  std::string out;
  for (const base::Verdict verdict :
       {base::Verdict::stop, base::Verdict::attention, base::Verdict::pass, base::Verdict::not_done}) {
    size_t count = 0;
    for (const base::StationOutcome& s : stations) count += s.result.verdict == verdict ? 1 : 0;
    if (count > 0)
      out += element("span", fmt::format("{} {}", count, verdict_mark(verdict, words)), "class=\"count\"");
  }
  return out;
}

std::string verdict_block(const ReportInput& input, const Words& words) {
  const base::Verdict verdict = job_verdict(input.stations);
  std::string out = element("p", verdict_mark(verdict, words), "class=\"overall\"");
  out += element("p", counts(input.stations, words), "class=\"counts\"");
  if (!input.overrides.empty())
    out += text_element("p", fmt::format("{} {}. {}", words.set_aside, input.overrides.size(), words.verdict_stands),
                        "class=\"small\"");
  if (!input.next_step.empty())
    out += element("p", text_element("b", words.to_do_first) + " " + escape(input.next_step), "class=\"next\"");
  return element("div", out, "class=\"judgement\"") + "\n";
}

// On this page the first sentence of a finding, but all of a stop: what more there is stands in the engineer's part.
std::string opening(const base::Finding& finding) {
  const std::string& text = finding.text;
  if (finding.verdict == base::Verdict::stop) return text;
  for (size_t at = text.find(". "); at != std::string::npos; at = text.find(". ", at + 1))
    if (at + 2 < text.size() && text[at + 2] >= 'A' && text[at + 2] <= 'Z') return text.substr(0, at + 1);
  return text;
}

std::string station_line(const base::StationOutcome& s, const Words& words, bool with_mark) {
  const base::Finding* finding = deciding(s.result);
  const std::string name =
      fmt::format("<a href=\"#station-{}\">{}</a>", id_text(s.result.name), escape(s.result.name));
  std::string out =
      element("span", (with_mark ? verdict_mark(s.result.verdict, words) + " " : "") + name, "class=\"name\"");
  out += " " + escape(finding ? opening(*finding) : std::string(question(words, s.result.name)));
  return element("li", out) + "\n";
}

// What is not done at all is named by its question: that is what stays open.
std::string not_done_line(const ReportInput& input, const Words& words) {
  std::string names;
  for (const base::StationOutcome& s : input.stations)
    if (s.result.verdict == base::Verdict::not_done)
      names += element("span",
                       fmt::format("<a href=\"#station-{}\">{}</a>", id_text(s.result.name), escape(s.result.name)) +
                           " " + escape(question(words, s.result.name))) +
               " ";
  return names.empty() ? ""
                       : element("li", verdict_mark(base::Verdict::not_done, words) + " " + names, "class=\"open\"");
}

std::string proof_lists(const ReportInput& input, const Words& words) {
  std::string proved, open;
  // The worst first: a stop must not stand below what was merely not recorded.
  for (const base::Verdict verdict : {base::Verdict::stop, base::Verdict::attention})
    for (const base::StationOutcome& s : input.stations)
      if (s.result.verdict == verdict) open += station_line(s, words, true);
  open += not_done_line(input, words);
  for (const base::StationOutcome& s : input.stations)
    if (s.result.verdict == base::Verdict::pass) proved += station_line(s, words, false);
  const auto column = [](std::string_view head, const std::string& items, std::string_view none) {
    return element("div",
                   text_element("h2", head) + (items.empty() ? text_element("p", none) : element("ul", items)));
  };
  return element(
             "div",
             column(words.proved, proved, words.nothing_proved) + column(words.not_proved, open, words.all_proved),
             "class=\"two\"") +
         "\n";
}

std::string override_list(const ReportInput& input, const Words& words) {
  std::string out = text_element("h2", words.overrides);
  if (input.overrides.empty()) return out + text_element("p", words.overrides_none) + "\n";
  std::string items;
  for (const Override& o : input.overrides)
    items += element("li", fmt::format("{} {}: “{}” {}", verdict_mark(base::Verdict::stop, words),
                                       text_element("b", o.station + ", " + o.finding), escape(o.reason),
                                       text_element("span", o.who, "class=\"who\"")));
  return out + element("ul", items, "class=\"plain\"") + "\n";
}

std::string caution_list(const ReportInput& input, const Words& words) {
  std::string items;
  for (const std::string& text : input.cautions) items += text_element("li", text, "class=\"job\"");
  for (const Caution& c : cautions()) items += element("li", text_element("b", c.head) + " " + escape(c.text));
  return element("div", text_element("h2", words.cautions) + element("ul", items), "class=\"cautions\"") + "\n";
}

std::string signature_block(const Words& words) {
  std::string rows;
  for (const std::string_view who : {words.handed_over, words.accepted}) {
    std::string cells = text_element("th", who, "scope=\"row\"");
    for (const std::string_view field : {words.name, words.role, words.place_date, words.signed_by})
      cells += element("td", text_element("span", field));
    rows += element("tr", cells);
  }
  return element("div",
                 text_element("h2", words.signature) + text_element("p", words.signature_line, "class=\"small\"") +
                     element("table", element("tbody", rows), "class=\"sign\""),
                 "class=\"keep\"") +
         "\n";
}

std::string heading(const ReportInput& input, const Words& words) {
  std::string facts;
  const auto fact = [&](std::string_view label, std::string_view text) {
    if (!text.empty()) facts += element("span", text_element("i", label) + " " + escape(text));
  };
  fact(words.job, input.job);
  fact(words.evaluated, input.evaluated_at);
  fact(words.program, input.program_version);
  fact(words.result_digest, input.result_sha256.substr(0, 12) + (input.result_sha256.size() > 12 ? "…" : ""));
  const std::string name = input.machine.name.empty() ? input.job : input.machine.name;
  return element("header", text_element("p", words.record, "class=\"kicker\"") + text_element("h1", name) +
                               element("p", facts, "class=\"facts\"")) +
         "\n";
}

}  // namespace

std::string sign_part(const ReportInput& input, const Words& words) {
  return element("section",
                 "\n" + heading(input, words) + verdict_block(input, words) + proof_lists(input, words) +
                     override_list(input, words) + element("h2", escape(words.settings)) +
                     settings_tables(input, words, true) + caution_list(input, words) + signature_block(words),
                 fmt::format("class=\"part\" id=\"sign\" aria-label=\"{}\"", escape(words.part_sign))) +
         "\n";
}

}  // namespace evenbeam::report
