#include "report/report.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <set>

#include "report/cautions.h"
#include "report/html.h"
#include "report/well_formed.h"

using namespace evenbeam;
using namespace evenbeam::report;

namespace {

base::Finding finding(const std::string& id, base::Verdict verdict, const std::string& text) {
  base::Finding f;
  f.id = id, f.verdict = verdict, f.text = text;
  return f;
}

base::StationOutcome station(const std::string& name, std::vector<base::Finding> findings) {
  base::StationOutcome s;
  s.result.name = name, s.result.verdict = base::overall(findings), s.result.findings = std::move(findings);
  return s;
}

base::Figure figure_with(size_t samples) {
  base::Figure figure;
  figure.id = "move", figure.title = "A move", figure.caption = "Captured.";
  base::Line line;
  line.role = base::Role::skew, line.label = "skew";
  for (size_t i = 0; i < samples; ++i)
    line.x.push_back(1e-4 * static_cast<double>(i)), line.y.push_back(1e-5 * std::sin(0.7 * static_cast<double>(i)));
  figure.panels.push_back({{"time", "s"}, {"skew", "m"}, {line}, {}});
  return figure;
}

ReportInput sample(size_t samples = 500) {
  ReportInput in;
  in.machine.name = "Gantry <7> & \"co\"", in.machine.span_m = 2, in.job = "job", in.program_version = "0.1.0";
  in.evaluated_at = "2031-01-02 03:04 UTC", in.result_sha256 = std::string(64, 'b'),
  in.next_step = "Record a search.";
  in.machine_rows = {{"Span", "2000 mm"}};
  base::Finding mass = finding("mass", base::Verdict::pass, "The mass agrees.");
  mass.value = 412, mass.unit = "kg", mass.lower = 405, mass.upper = 419, mass.limit = 400, mass.source = "papers";
  mass.recording = "05 <b>.csv", mass.from_s = 1.5, mass.to_s = 2, mass.next = "Weigh the carriage.";
  in.stations.push_back(station("survey", {mass, finding("modes", base::Verdict::pass, "One mode.")}));
  base::Value list, rows, unknown;
  list.value = std::vector<double>{14.2, 61.3}, list.unit = "Hz", unknown.unit = "m";
  rows.value = std::vector<base::Row>{{{"y_m", -0.8}, {"share", 0.58}}, {{"y_m", 0.8}, {"share", 0.42}}};
  in.stations[0].result.values = {{"mode_hz", list}, {"force_share", rows}, {"marks_a_minus_b_square_m", unknown}};
  in.stations[0].figures = {figure_with(samples), figure_with(samples)};
  in.stations.push_back(station("loops", {finding("ring", base::Verdict::stop, "The skew loop rings.")}));
  in.stations.push_back(station("fit", {finding("none", base::Verdict::not_done, "No multisine is in the job.")}));
  in.inputs = {{"a.csv", std::string(64, 'c'), "search"}};
  SettingsRow share{"mean and skew", "share", "Force share of A", 0.44, "1", "", {}, "", true};
  SettingsRow friction{"mean and skew", "coulomb_ff_a_n", "Friction A", 62.5, "N", "", 2.4, "", true};
  SettingsRow filter{"per side", "skew_filters", "Filter", {}, "", "61 Hz", {}, "bending", false};
  in.settings = {share, friction, filter};
  in.overrides = {{"loops", "ring", "Shown <today>.", "R. Example"}};
  in.cautions = {"First moves at a third of the level."};
  return in;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != text.npos; }

void check_page(const std::string& html) {
  const auto troubles = page_troubles(html);
  for (const std::string& trouble : troubles) MESSAGE(trouble);
  CHECK(troubles.empty());
}

}  // namespace

TEST_CASE("the report is well-formed, self-contained and the same each time") {
  const std::string html = report_html(sample());
  check_page(html);
  CHECK(html == report_html(sample()));
  for (const char* outside : {"http://", "https://", "<script", "url(", "@import"}) {
    std::string rest = html;  // the SVG name space is a name, nothing is fetched from it
    for (size_t at; (at = rest.find("http://www.w3.org/2000/svg")) != rest.npos;) rest.erase(at, 26);
    CAPTURE(std::string(outside));
    CHECK(!has(rest, outside));
  }
}

TEST_CASE("three readers find what is theirs") {
  const std::string html = report_html(sample());
  const size_t engineer = html.find("id=\"engineer\""), repeat = html.find("id=\"repeat\"");
  REQUIRE(engineer < repeat);
  const std::string sign = html.substr(0, engineer), middle = html.substr(engineer, repeat - engineer),
                    last = html.substr(repeat);
  for (const char* part :
       {"Stop", "The mass agrees.", "The skew loop rings.", "Shown &lt;today&gt;.", "R. Example", "Force share of A",
        "0.44", "62.5 N (2.4 %)", "First moves at a third", "Signature", "Record a search."}) {
    CAPTURE(std::string(part));
    CHECK(has(sign, part));
  }
  for (const auto& caution : cautions()) CHECK(has(sign, std::string(caution.head)));
  for (const char* part : {"412 kg (95 %: 405 to 419)", "limit</i> 400 kg, papers", "05 &lt;b&gt;.csv, 1.5 to 2 s",
                           "Weigh the carriage.", "14.2, 61.3 Hz", "y, mm", "-800", "marks A minus B square",
                           "unknown", "Figure 2. A move", "No multisine is in the job."}) {
    CAPTURE(std::string(part));
    CHECK(has(middle, part));
  }
  CHECK(!has(sign, "61 Hz"));  // not a front row
  for (const char* part : {"a.csv", "2000 mm", "0.1.0", "2031-01-02 03:04 UTC", "skew_filters", "61 Hz", "bending"}) {
    CAPTURE(std::string(part));
    CHECK(has(last, part));
  }
  CHECK(has(last, std::string(64, 'b')));
  CHECK(has(last, std::string(64, 'c')));
}

TEST_CASE("verdicts differ by word and by shape") {
  std::set<std::string> shapes;
  for (const base::Verdict v :
       {base::Verdict::pass, base::Verdict::attention, base::Verdict::stop, base::Verdict::not_done}) {
    const std::string mark = verdict_mark(v, english());
    CHECK(has(mark, std::string(verdict_word(english(), v))));
    shapes.insert(mark.substr(mark.find("<svg"), mark.find("</svg>") - mark.find("<svg")));
  }
  CHECK(shapes.size() == 4);
}

TEST_CASE("the job's verdict is its worst station's") {
  CHECK(job_verdict({}) == base::Verdict::not_done);
  CHECK(job_verdict(sample().stations) == base::Verdict::stop);
  ReportInput in = sample();
  in.stations.erase(in.stations.begin() + 1);
  CHECK(job_verdict(in.stations) == base::Verdict::pass);
}

TEST_CASE("hostile texts stay texts, wherever they come from") {
  const std::string evil =
      "\"><img src=x onerror=alert(1)>'</style></script><script>alert(2)</script>&#x3c;\xff\x02}";
  ReportInput in = sample();
  in.job = in.next_step = in.program_version = in.evaluated_at = in.result_sha256 = in.machine.name = evil;
  in.machine_rows.push_back({evil, evil}), in.cautions.push_back(evil), in.inputs.push_back({evil, evil, evil});
  in.overrides.push_back({evil, evil, evil, evil});
  in.settings.push_back({evil, evil, evil, {}, evil, evil, {}, evil, true});
  base::Finding f = finding(evil, base::Verdict::attention, evil);
  f.value = 1, f.unit = evil, f.source = evil, f.recording = evil, f.next = evil;
  base::StationOutcome s = station(evil, {f});
  base::Value text, rows;
  text.value = evil, text.unit = evil;
  rows.value = std::vector<base::Row>{{{evil, evil}, {"x_m", 1.0}}, {{"other", 2.0}}};
  s.result.values = {{evil, text}, {"rows", rows}};
  base::Figure figure = figure_with(10);
  figure.id = figure.title = figure.caption = figure.panels[0].x.label = figure.panels[0].y.unit =
      figure.panels[0].lines[0].label = evil;
  s.figures = {figure};
  in.stations.push_back(s);
  in.machine.length_unit = evil;
  const std::string html = report_html(in);
  check_page(html);
  CHECK(!has(html, "<img"));
  CHECK(!has(html, "<script"));
  CHECK(html.find("</style>") == html.rfind("</style>"));
}

TEST_CASE("an empty evaluation still makes a page that says so") {
  const std::string html = report_html({});
  check_page(html);
  CHECK(has(html, "Not done"));
  CHECK(has(html, "Nothing has been proved yet."));
  CHECK(has(html, "No settings were proposed"));
}

TEST_CASE("the report does not grow with the recordings") {
  const size_t shorter = report_html(sample(20'000)).size(), longer = report_html(sample(200'000)).size();
  CHECK(longer < 120'000);
  CHECK(longer < shorter * 11 / 10);
}

TEST_CASE("a column of numbers is aligned from its head to its last row, the first column too") {
  const std::string html = table({{"y", true}, {"name"}}, {{"1", "a"}, {"2", "b"}});
  size_t aligned = 0;
  for (size_t at = html.find("class=\"number\""); at != html.npos; at = html.find("class=\"number\"", at + 1))
    ++aligned;
  CHECK(aligned == 3);
}

TEST_CASE("keys in words") {
  CHECK(key_in_words("allowable_skew_m") == "allowable skew");
  CHECK(key_in_words("viscous_ff_a_n_s_per_m") == "viscous ff A");
  CHECK(key_in_words("gain_ratio_b_to_a") == "gain ratio B to A");
  CHECK(key_unit("yaw_damping_n_m_s_per_rad") == "N*m*s/rad");
  CHECK(key_unit("coulomb_ramp_m_per_s") == "m/s");
  CHECK(key_unit("share") == "1");
}

TEST_CASE("a list with more quantities than paper has room for lies down, and loses none") {
  ReportInput in = sample();
  base::Row move{{"move", std::string("06.csv")}};
  for (int k = 0; k < 12; ++k) move.emplace_back("quantity_" + std::to_string(k) + "_m", 0.001 * (k + 1));
  base::Value rows;
  rows.value = std::vector<base::Row>{move, move};
  in.stations[0].result.values = {{"moves", rows}};
  const std::string html = report_html(in);
  check_page(html);
  for (int k = 0; k < 12; ++k) CHECK(has(html, "<th scope=\"row\">quantity " + std::to_string(k) + ", mm</th>"));
}

TEST_CASE("the bounds in a list take the unit of the value before them") {
  ReportInput in = sample();
  base::Value rows;
  rows.value = std::vector<base::Row>{{{"peak_skew_m", 0.25}, {"lower", 0.125}, {"upper", 0.5}, {"share", 0.5}}};
  in.stations[0].result.values = {{"forecast", rows}};
  const std::string html = report_html(in);
  CHECK(has(html, "lower, mm"));
  CHECK(has(html, ">125<"));
  CHECK(!has(html, "share, mm"));
}

TEST_CASE("another language: the words of the page are data, and no English head is left among them") {
  Words other = english();
  other.language = "xx", other.proved = "P1", other.not_proved = "P2", other.settings = "P3", other.signature = "P4";
  other.signature_line = "P5", other.part_engineer = "P6", other.part_repeat = "P7", other.interval = "P8";
  other.how_sure = "P9", other.attention = "P10", other.to = "P11", other.stop = "P12";
  const std::string html = report_html(sample(), other);
  CHECK(has(html, "<html lang=\"xx\">"));
  for (int i = 1; i <= 12; ++i) {
    CAPTURE(i);
    if (i != 10) CHECK(has(html, fmt::format("P{}", i)));  // nothing asks for attention in the sample
  }
  for (const char* english_word : {"What was proved", "Settings<", "Signatures", "For the engineer",
                                   "To repeat the work", "95 % interval", "How sure", "405 to 419"}) {
    CAPTURE(std::string(english_word));
    CHECK(!has(html, english_word));
  }
}

TEST_CASE("the page that is signed has each answer's first sentence, but all of a stop") {
  ReportInput in = sample();
  in.stations[0].result.findings[0].text = "The mass is 4.5 % off. It was weighed twice.";
  in.stations[1].result.findings[0].text = "The skew loop rings. Do not move.";
  const std::string html = report_html(in), sign = html.substr(0, html.find("id=\"engineer\""));
  CHECK(has(sign, "The mass is 4.5 % off.</li>"));
  CHECK(has(sign, "The skew loop rings. Do not move."));
  CHECK(has(html, "It was weighed twice."));
}

TEST_CASE("beside each single number: how sure, by what") {
  ReportInput in = sample();
  in.stations[0].result.values.push_back(
      {"moving_mass_kg", {.value = 412.0, .unit = "kg", .lower = 405, .upper = 419}});
  in.methods["survey.moving_mass_kg"] = "weighed";
  CHECK(has(report_html(in), "<td>weighed</td><td><code>moving_mass_kg</code></td>"));
}
