// One page for the person who signs: one sheet of paper, whatever was found (sign_room.h).
#include <fmt/format.h>

#include <algorithm>

#include "report/cautions.h"
#include "report/html.h"
#include "report/page.h"
#include "report/sign_room.h"
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

// What is left of the sheet, taken by one block after the other; lines and texts in points (sign_room.h).
struct Room {
  Sheet sheet;
  double height = 0;
};

std::string more_line(std::size_t count, const Words& words) {
  return count == 0 ? ""
                    : text_element("li", fmt::format("{} {}", count, words.more_follow), "class=\"small\"") + "\n";
}

std::string verdict_block(const ReportInput& input, const Words& words, Room& room) {
  const base::Verdict verdict = job_verdict(input.stations);
  std::string out = element("p", verdict_mark(verdict, words), "class=\"overall\"");
  out += element("p", counts(input.stations, words), "class=\"counts\"");
  if (!input.overrides.empty())
    out += text_element("p", fmt::format("{} {}. {}", words.set_aside, input.overrides.size(), words.verdict_stands),
                        "class=\"small\"");
  if (!input.next_step.empty()) {
    constexpr double width = 46 * sign_font;  // .next of page_css.cpp
    constexpr std::size_t most = 4;
    const std::string step = cut_to_lines(std::string(words.to_do_first) + " xx " + input.next_step, width, most);
    room.height -= sign_line * static_cast<double>(lines_of(step, width));
    out +=
        element("p", text_element("b", words.to_do_first) + " " + escape(step.substr(words.to_do_first.size() + 4)),
                "class=\"next\"");
  }
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

struct StationLine {
  const base::StationOutcome* station = nullptr;
  std::string before;  // the verdict's mark, as markup; empty where the list says it
  std::string count;   // "1 of 4" where the station has more findings of its verdict
  ListItem item;       // as reckoned: `lead` in plain text
};

StationLine station_line(const base::StationOutcome& s, const Words& words, bool with_mark) {
  const base::Finding* finding = deciding(s.result);
  std::size_t alike = 0;
  for (const base::Finding& f : s.result.findings) alike += f.verdict == s.result.verdict ? 1 : 0;
  StationLine out{.station = &s};
  if (with_mark) out.before = verdict_mark(s.result.verdict, words) + " ";
  if (with_mark && alike > 1) out.count = fmt::format("1 {} {}", words.of, alike);
  // Bold letters and the mark are wider: two more of the widest.
  out.item.lead =
      fmt::format("{}mm{} {} ", with_mark ? std::string(verdict_word(words, s.result.verdict)) + " mm " : "",
                  s.result.name, out.count);
  out.item.text = finding ? opening(*finding) : std::string(question(words, s.result.name));
  return out;
}

std::string station_item(const StationLine& line, const std::string& text) {
  const std::string& name = line.station->result.name;
  std::string head = fmt::format("{}<a href=\"#station-{}\">{}</a>", line.before, id_text(name), escape(name));
  std::string out = element("span", head, "class=\"name\"") + " ";
  if (!line.count.empty()) out += text_element("span", line.count, "class=\"who\"") + " ";
  return element("li", out + escape(text)) + "\n";
}

std::string station_items(const std::vector<StationLine>& lines, const Room& room, const Words& words) {
  constexpr std::size_t most = 9;
  std::vector<ListItem> items;
  for (const StationLine& l : lines) items.push_back(l.item);
  const FittedList fitted = fit_list(items, room.sheet.column, room.height, most);
  std::string out;
  for (std::size_t i = 0; i < fitted.texts.size(); ++i) out += station_item(lines[i], fitted.texts[i]);
  return out + more_line(fitted.left_out, words);
}

// What is not done at all is named by its question: that is what stays open. Where many are, by name alone.
std::string not_done_line(const ReportInput& input, const Words& words, Room& room) {
  constexpr double small = 0.87 * sign_font;
  std::string names, plain, plain_names;
  for (const base::StationOutcome& s : input.stations)
    if (s.result.verdict == base::Verdict::not_done) {
      plain += fmt::format("m{} {} ", s.result.name, question(words, s.result.name));
      plain_names += fmt::format("m{} ", s.result.name);
    }
  if (plain.empty()) return "";
  const std::string mark = std::string(words.not_done) + " mm ";
  const auto height = [&](const std::string& text) {
    return sign_line * static_cast<double>(lines_of(mark + text, room.sheet.column, small)) + sign_gap;
  };
  const bool with_questions = height(plain) <= room.height / 2;
  room.height -= height(with_questions ? plain : plain_names);
  for (const base::StationOutcome& s : input.stations)
    if (s.result.verdict == base::Verdict::not_done)
      names += element("span",
                       fmt::format("<a href=\"#station-{}\">{}</a>{}", id_text(s.result.name), escape(s.result.name),
                                   with_questions ? " " + escape(question(words, s.result.name)) : "")) +
               " ";
  return element("li", verdict_mark(base::Verdict::not_done, words) + " " + names, "class=\"open\"");
}

std::string proof_lists(const ReportInput& input, const Words& words, const Room& room) {
  std::vector<StationLine> proved, open;
  // The worst first: a stop must not stand below what was merely not recorded.
  for (const base::Verdict verdict : {base::Verdict::stop, base::Verdict::attention})
    for (const base::StationOutcome& s : input.stations)
      if (s.result.verdict == verdict) open.push_back(station_line(s, words, true));
  for (const base::StationOutcome& s : input.stations)
    if (s.result.verdict == base::Verdict::pass) proved.push_back(station_line(s, words, false));
  Room beside = room;
  const std::string not_done = not_done_line(input, words, beside);
  const auto column = [](std::string_view head, const std::string& items, std::string_view none) {
    return element("div",
                   text_element("h2", head) + (items.empty() ? text_element("p", none) : element("ul", items)));
  };
  return element("div",
                 column(words.proved, station_items(proved, room, words), words.nothing_proved) +
                     column(words.not_proved, station_items(open, beside, words) + not_done, words.all_proved),
                 "class=\"two\"") +
         "\n";
}

std::string override_list(const ReportInput& input, const Words& words, Room& room) {
  std::string out = text_element("h2", words.overrides);
  if (input.overrides.empty()) return out + text_element("p", words.overrides_none) + "\n";
  constexpr std::size_t most = 3;
  std::vector<ListItem> items;
  for (const Override& o : input.overrides)
    items.push_back({fmt::format("{} mm {}mm, {}: “” {} ", words.stop, o.station, o.finding, o.who), o.reason});
  const FittedList fitted = fit_list(items, room.sheet.width, room.height / 3, most);
  std::string list;
  for (std::size_t i = 0; i < fitted.texts.size(); ++i) {
    const Override& o = input.overrides[i];
    room.height -=
        sign_line * static_cast<double>(lines_of(items[i].lead + fitted.texts[i], room.sheet.width)) + sign_gap;
    list += element("li", fmt::format("{} {}: “{}” {}", verdict_mark(base::Verdict::stop, words),
                                      text_element("b", o.station + ", " + o.finding), escape(fitted.texts[i]),
                                      text_element("span", o.who, "class=\"who\"")));
  }
  if (fitted.left_out > 0) room.height -= sign_line + sign_gap;
  return out + element("ul", list + more_line(fitted.left_out, words), "class=\"plain\"") + "\n";
}

std::string caution_list(const ReportInput& input, const Words& words, Room& room) {
  constexpr double size = 0.78 * sign_font * 1.1, line = 1.25 * 0.78 * sign_font;  // bold
  constexpr std::size_t most = 4, lines = 2;
  std::string items;
  for (std::size_t i = 0; i < std::min(most, input.cautions.size()); ++i) {
    const std::string text = cut_to_lines(input.cautions[i], room.sheet.column, lines, size);
    room.height -= (line * static_cast<double>(lines_of(text, room.sheet.column, size)) + sign_gap) / 2 + line / 2;
    items += text_element("li", text, "class=\"job\"");
  }
  if (input.cautions.size() > most) room.height -= line;
  items += more_line(input.cautions.size() - std::min(most, input.cautions.size()), words);
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
  const double width = sheet_of(input.paper).width;
  std::string facts;
  const auto fact = [&](std::string_view label, const std::string& text) {
    if (!text.empty())
      facts += element("span", text_element("i", label) + " " + escape(cut_to_lines(text, width / 4, 1)));
  };
  fact(words.job, input.job);
  fact(words.evaluated, input.evaluated_at);
  fact(words.program, input.program_version);
  fact(words.result_digest, input.result_sha256.substr(0, 12) + (input.result_sha256.size() > 12 ? "…" : ""));
  constexpr double large = 1.75 * 1.15 * sign_font;  // h1 of page_css.cpp, bold
  const std::string name = cut_to_lines(input.machine.name.empty() ? input.job : input.machine.name, width, 1, large);
  return element("header", text_element("p", words.record, "class=\"kicker\"") + text_element("h1", name) +
                               element("p", facts, "class=\"facts\"")) +
         "\n";
}

}  // namespace

std::string sign_part(const ReportInput& input, const Words& words) {
  Room room{sheet_of(input.paper), variable_height(input, front_settings(input))};
  // What has to be read whole takes its room first; the proof lists take what is left.
  const std::string verdict = verdict_block(input, words, room), cautions = caution_list(input, words, room),
                    overrides = override_list(input, words, room);
  return element("section",
                 "\n" + heading(input, words) + verdict + proof_lists(input, words, room) + overrides +
                     element("h2", escape(words.settings)) + settings_tables(input, words, true) + cautions +
                     signature_block(words),
                 fmt::format("class=\"part\" id=\"sign\" aria-label=\"{}\"", escape(words.part_sign))) +
         "\n";
}

}  // namespace evenbeam::report
