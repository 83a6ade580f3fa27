#include "report/sign_room.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <set>

#include "base/files.h"
#include "base/process.h"
#include "report/cautions.h"
#include "report/pdf.h"
#include "report/text.h"
#include "report/words.h"

using namespace evenbeam;
using namespace evenbeam::report;

namespace {

const char* const names[] = {"recordings", "ready", "survey", "limits",   "nudge",  "marks", "square",
                             "fit",        "loops", "trips",  "rehearse", "causes", "prove", "handover"};

std::string long_text(std::size_t words, const std::string& last) {
  std::string out = "Seen";
  for (std::size_t i = 0; i < words; ++i) out += i % 3 ? " on the way" : " a standing difference of 123.4 N";
  return out + ", " + last + ".";
}

// `findings` of one verdict spread over all stations, each with a long text; everything else long too.
ReportInput crowded(base::Verdict verdict, std::size_t findings, std::size_t text_words, std::size_t overrides) {
  ReportInput in;
  in.machine.name = long_text(text_words, "name"), in.machine.span_m = 2, in.job = long_text(text_words, "job");
  in.program_version = "0.1.0", in.evaluated_at = "2031-01-02 03:04 UTC", in.result_sha256 = std::string(64, 'b');
  in.next_step = long_text(3 * text_words, "next");
  for (const char* name : names) {
    base::StationOutcome s;
    s.result.name = name, s.result.verdict = verdict;
    in.stations.push_back(s);
  }
  for (std::size_t k = 0; k < findings; ++k) {
    base::Finding f;
    f.id = fmt::format("f{}", k), f.verdict = verdict, f.text = long_text(text_words, fmt::format("end {}", k));
    in.stations[k % std::size(names)].result.findings.push_back(f);
  }
  for (int k = 0; k < 9; ++k)
    in.settings.push_back({.form = "mean and skew",
                           .key = "k",
                           .label = "mean: integral time of the velocity loop",
                           .value = 0.035 + k,
                           .unit = "s",
                           .front = true});
  for (std::size_t k = 0; k < overrides; ++k)
    in.overrides.push_back(
        {"loops", fmt::format("finding_{}", k), long_text(text_words, fmt::format("reason {}", k)), "R. Example"});
  for (std::size_t k = 0; k < overrides; ++k)
    in.cautions.push_back(long_text(text_words, fmt::format("caution {}", k)));
  return in;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != text.npos; }

// The first page's text as a printed sheet holds it; empty where this machine has no browser or no reader of PDF.
std::string first_sheet(const ReportInput& in) {
  const std::string reader = base::find_program({"pdftotext"}), browser = find_browser();
  if (reader.empty() || browser.empty()) return {};
  const base::TemporaryFolder folder;
  const std::string html = base::join_path(folder.path(), "r.html"), pdf = base::join_path(folder.path(), "r.pdf"),
                    text = base::join_path(folder.path(), "r.txt");
  base::write_file_atomically(html, report_html(in));
  const PdfResult printed = write_pdf(html, pdf, browser, 120);
  CAPTURE(printed.reason);
  REQUIRE(printed.written);
  base::run_process(reader, {"-f", "1", "-l", "1", "-layout", pdf, text}, 60);
  return base::read_file(text);
}

}  // namespace

TEST_CASE("a text is cut at a word, to the lines it may take, and never where it fits") {
  const std::string text = long_text(40, "end");
  for (const std::size_t lines : {std::size_t(1), std::size_t(2), std::size_t(5)}) {
    const std::string cut = cut_to_lines(text, 200, lines);
    CHECK(lines_of(cut, 200) <= lines);
    CHECK(cut.ends_with(" …"));
    CHECK(text.starts_with(cut.substr(0, cut.size() - std::string(" …").size())));
  }
  CHECK(cut_to_lines(text, 200, 400) == text);
  CHECK(lines_of(cut_to_lines(std::string(500, 'W'), 100, 1), 100) == 1);
  std::string letters;
  for (int k = 0; k < 300; ++k) letters += "ü";
  CHECK(!has(escape(cut_to_lines(letters, 100, 1)), "\xEF\xBF\xBD"));  // no letter cut in two
}

TEST_CASE("a list gets the largest cap with which it fits; what does not fit at all is counted") {
  std::vector<ListItem> items(12, {"Attention prove ", long_text(30, "end")});
  for (const double height : {1000.0, 400.0, 200.0, 60.0, 10.0, 0.0}) {
    const FittedList fitted = fit_list(items, 240, height, 9);
    double used = fitted.left_out > 0 ? sign_line + sign_gap : 0;
    for (const std::string& t : fitted.texts)
      used += sign_gap + sign_line * static_cast<double>(lines_of("Attention prove " + t, 240));
    CAPTURE(height);
    CHECK(fitted.texts.size() + fitted.left_out == 12);
    if (!fitted.texts.empty()) CHECK(used <= height);
  }
  CHECK(fit_list({}, 240, 0, 9).left_out == 0);
}

TEST_CASE("on paper the page that is signed holds all its parts, however much was found") {
  struct Case {
    base::Verdict verdict;
    std::size_t findings, words, overrides;
    Paper paper;
  };
  for (const Case& c :
       {Case{base::Verdict::attention, 30, 12, 0, Paper::a4},
        Case{base::Verdict::attention, 30, 60, 2, Paper::letter},
        Case{base::Verdict::stop, 30, 60, 14, Paper::letter}, Case{base::Verdict::pass, 14, 60, 14, Paper::a4}}) {
    ReportInput in = crowded(c.verdict, c.findings, c.words, c.overrides);
    in.paper = c.paper;
    const std::string sheet = first_sheet(in);
    if (sheet.empty()) {
      MESSAGE("no browser or no pdftotext here: the printed sheet was not looked at");
      return;
    }
    CAPTURE(c.findings);
    CAPTURE(c.words);
    CAPTURE(c.overrides);
    const Words& w = english();
    for (const std::string_view part :
         {verdict_word(w, c.verdict), w.proved, w.not_proved, w.overrides, w.settings, w.cautions, w.signature,
          w.handed_over, w.accepted, std::string_view("What is not known.")}) {
      CAPTURE(std::string(part));
      CHECK(has(sheet, std::string(part)));
    }
    CHECK(!has(sheet, std::string(w.part_engineer)));
    // Nothing is lost: what was cut stands whole behind.
    const std::string html = report_html(in);
    for (std::size_t k = 0; k < c.findings; ++k) CHECK(has(html, fmt::format("end {}.", k)));
    for (std::size_t k = 0; k < c.overrides; ++k) CHECK(has(html, fmt::format("reason {}.", k)));
    for (std::size_t k = 0; k < c.overrides; ++k) CHECK(has(html, fmt::format("caution {}.", k)));
  }
}
