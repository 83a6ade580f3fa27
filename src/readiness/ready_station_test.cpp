#include "readiness/ready_station.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "base/input_error.h"
#include "base/message_of_test.h"
#include "base/near_test.h"
#include "readiness/guide_tolerance.h"
#include "readiness/sample_machine_test.h"

using namespace evenbeam;
using namespace evenbeam::readiness;
using base::Verdict;

namespace {

bool has_line(const machine::Machine& m, const std::string& id) {
  const auto lines = check_sheet(m);
  return std::any_of(lines.begin(), lines.end(), [&](const CheckLine& line) { return line.id == id; });
}

std::string nothing_named(const std::string& path) { throw base::InputError({.file = path, .found = "nothing"}); }

std::string message_of(const std::string& text) {
  return base::test::message_of(
      [&] { read_sheet(text, "ready.toml", check_sheet(sample_machine()), nothing_named); });
}

recording::Recording capture(recording::RunKind kind) {
  recording::Recording r;
  r.kind = kind;
  return r;
}

}  // namespace

TEST_CASE("the sheet holds only what the machine has, and every line is complete") {
  machine::Machine bare;
  bare.span_m = 2;
  CHECK_FALSE(has_line(bare, "brake_hold_a"));
  CHECK_FALSE(has_line(bare, "head_gap_a"));
  CHECK_FALSE(has_line(bare, "home_switches"));
  CHECK(has_line(bare, "axis_tilt"));
  CHECK(has_line(sample_machine(), "brake_hold_b"));
  CHECK(has_line(sample_machine(), "head_gap_b"));
  machine::Machine one_scale = sample_machine();
  one_scale.feedback_on_both_sides = false;
  CHECK_FALSE(has_line(one_scale, "head_gap_b"));
  CHECK_FALSE(has_line(one_scale, "gauge_way_b"));
  CHECK(has_line(one_scale, "blind_side"));
  CHECK_FALSE(has_line(sample_machine(), "blind_side"));
  machine::Machine shaft = sample_machine();
  shaft.common_shaft = true;
  CHECK(has_line(shaft, "shaft_couplings"));
  CHECK_FALSE(has_line(shaft, "angle_spread_b"));
  machine::Machine third = sample_machine();
  third.third_rail = true;
  CHECK(has_line(third, "third_rail_height"));
  machine::Machine pivoted = sample_machine();
  pivoted.guides.ends = machine::EndKind::pivoted;
  CHECK(has_line(pivoted, "end_joints"));
  CHECK_FALSE(has_line(sample_machine(), "end_joints"));
  machine::Machine two = sample_machine();
  two.a.motors = two.b.motors = 2;
  CHECK(has_line(two, "pinion_preload"));
  std::set<std::string> ids;
  for (const machine::Machine& m : {bare, two})
    for (const CheckLine& line : check_sheet(m)) {
      CAPTURE(line.id);
      CHECK_FALSE(line.how.empty());
      CHECK_FALSE(line.why.empty());
      CHECK_FALSE(line.source.empty());
      CHECK(line.unit.empty() == line.example.empty());
      if (!line.unit.empty()) CHECK(line.plausible_high > line.plausible_low);
      ids.insert(line.id);
    }
  CHECK(ids.size() == check_sheet(two).size());  // the bare machine's lines are all among them, and none comes twice
}

TEST_CASE("the sheet that is written reads back with nothing done, and each example fits its line") {
  const machine::Machine m = sample_machine();
  const auto lines = check_sheet(m);
  const std::string text = empty_sheet(lines, m);
  const Sheet sheet = read_sheet(text, "ready.toml", lines, nothing_named);
  CHECK(sheet.measured.empty());
  CHECK(ready_station(sheet, m, {}).result.verdict == Verdict::not_done);
  CHECK_FALSE(with_missing_lines(text, "ready.toml", lines, m));
  std::string filled = "format = \"evenbeam.ready/1\"\n";
  for (const CheckLine& line : lines)
    filled +=
        "[check." + line.id + "]\n" +
        (line.unit.empty() ? "seen = \"yes\"\n" : "measured = \"" + line.example + "\"\ninstrument = \"gauge\"\n");
  CHECK(read_sheet(filled, "ready.toml", lines, nothing_named).measured.size() == lines.size());
  // A machine that has grown a brake since gets the lines it lacks, behind what is written.
  machine::Machine without = m;
  without.brake_a = without.brake_b = {};
  const std::string older = empty_sheet(check_sheet(without), without);
  const auto longer = with_missing_lines(older, "ready.toml", lines, m);
  REQUIRE(longer);
  CHECK(longer->rfind(older, 0) == 0);
  CHECK_NOTHROW(read_sheet(*longer, "ready.toml", lines, nothing_named));
  CHECK_FALSE(with_missing_lines(*longer, "ready.toml", lines, m));
}

TEST_CASE("all troubles of a sheet come in one error, with line and what to do") {
  const std::string message = message_of(
      "format = \"evenbeam.ready/1\"\n[check.rail_height]\nmeasured = \"60 N\"\ninstrument = \"level\"\n"
      "[check.bolts]\nseen = \"maybe\"\n[check.rail_paralelism]\nmeasured = \"1 um\"\n"
      "[check.free_push_a]\nmeasured = \"40 N\"\nlimit = \"50 N\"\n[parameters]\na = \"drives/a.txt\"\n");
  CHECK(message.find("ready.toml:3") != std::string::npos);
  CHECK(message.find("ready.toml:6") != std::string::npos);
  CHECK(message.find("rail_parallelism") != std::string::npos);
  CHECK(message.find("no 'instrument' in [check.free_push_a]") != std::string::npos);
  CHECK(message.find("no 'limit_source' in [check.free_push_a]") != std::string::npos);
  CHECK(message.find("no 'b' in [parameters]") != std::string::npos);
  CHECK(message_of("format = \"evenbeam.ready/2\"\n").find("evenbeam.ready/1") != std::string::npos);
}

TEST_CASE("a good sheet passes; one bad or missing line is a stop of its own") {
  const machine::Machine m = sample_machine();
  const auto lines = check_sheet(m);
  Sheet sheet = good_sheet(lines);
  sheet.parameters = {read_parameter_text("Kp = 1\n", "a"), read_parameter_text("Kp = 1\n", "b")};
  CHECK(ready_station(sheet, m, {}).result.verdict == Verdict::pass);
  for (const CheckLine& line : lines) {
    CAPTURE(line.id);
    Sheet missing = sheet;
    std::erase_if(missing.measured, [&](const auto& one) { return one.first == line.id; });
    const auto before = ready_station(missing, m, {}).result;
    const auto* finding = base::find_finding(before, "missing_" + line.id);
    CHECK((finding != nullptr) == (line.gate != Gate::first_move));
    if (finding) CHECK(finding->verdict == Verdict::stop);
    // Once both sides were pushed the first move is next, and its lines are due.
    const auto after = ready_station(missing, m, {capture(recording::RunKind::nudge)}).result;
    CHECK(base::find_finding(after, "missing_" + line.id) != nullptr);
    CHECK(after.verdict == Verdict::stop);
  }
  at(sheet, "bolts").yes = false;
  CHECK(base::find_finding(ready_station(sheet, m, {}).result, "bolts")->verdict == Verdict::stop);
}

TEST_CASE("the instrument's doubt decides between good, bad and too close to tell") {
  const machine::Machine m = sample_machine();
  const auto lines = check_sheet(m);
  const double limit = height_tolerance_m(m.span_m);
  CHECK(limit == base::test::near(0.4e-3));
  const auto state = [&](double value, double error) {
    Sheet sheet = good_sheet(lines);
    at(sheet, "rail_height").value = value;
    at(sheet, "rail_height").error = error;
    for (const Judged& j : judge(lines, sheet))
      if (j.line.id == "rail_height") return j.state;
    return State::missing;
  };
  CHECK(state(limit - 1e-5, 0) == State::good);
  CHECK(state(limit - 1e-5, 2e-5) == State::close);
  CHECK(state(limit + 1e-5, 2e-5) == State::close);
  CHECK(state(limit + 3e-5, 2e-5) == State::bad);
}

TEST_CASE("a limit that the person states goes before the line's own, with its source") {
  const machine::Machine m = sample_machine();
  Sheet sheet = good_sheet(check_sheet(m));
  Measured& height = at(sheet, "rail_height");
  height.value = 1e-4, height.high = 5e-5, height.limit_source = "the guide maker's sheet";
  const auto result = ready_station(sheet, m, {}).result;
  REQUIRE(base::find_finding(result, "rail_height"));
  CHECK(base::find_finding(result, "rail_height")->source == "the guide maker's sheet");
  CHECK(*base::find_finding(result, "rail_height")->limit == base::test::near(5e-5));
  height.high.reset(), height.limit_source.clear();
  Measured& gap = at(sheet, "head_gap_a");
  gap.high.reset(), gap.limit_source.clear();
  const auto open = ready_station(sheet, m, {}).result;
  CHECK(base::find_finding(open, "head_gap_a")->text.find("No limit is known") != std::string::npos);
  CHECK(base::find_finding(open, "head_gap_a")->verdict == Verdict::stop);
}

TEST_CASE("rails: the tolerance by hand, and a stiffer mounting makes it smaller") {
  // k = 51 kN/120 um = 425 N/um; e = 2 * 3100 N / 425 N/um = 14.588 um.
  machine::Guides g{.spacing_m = 0.26, .static_rating_n = 51000, .dynamic_rating_n = 31000};
  CHECK(parallel_tolerance(g)->error_m == base::test::near(14.588e-6).epsilon(1e-4));
  g.yaw_stiffness_n_m_per_rad = 1e6;  // softer mountings do not count
  CHECK(parallel_tolerance(g)->error_m == base::test::near(14.588e-6).epsilon(1e-4));
  g.yaw_stiffness_n_m_per_rad = 850e6 * 0.26 * 0.26;  // k = 850 N/um: half of it
  CHECK(parallel_tolerance(g)->error_m == base::test::near(7.294e-6).epsilon(1e-3));
  g.dynamic_rating_n.reset();
  CHECK_FALSE(parallel_tolerance(g));
}

TEST_CASE("what A and B show against each other") {
  const machine::Machine m = sample_machine();
  Sheet sheet = good_sheet(check_sheet(m));
  CHECK(pair_findings(sheet, m).empty());
  at(sheet, "free_push_a").value = 30, at(sheet, "free_push_b").value = 60;
  at(sheet, "gauge_way_b").value = 9.985e-3;  // 0.15 %: good by itself, 2.1 mm over 1.4 m
  at(sheet, "current_rise_a").value = 0.4e-3, at(sheet, "current_rise_b").value = 0.6e-3;
  at(sheet, "brake_close_b").value = 0.055, at(sheet, "brake_close_a").value = 0.030;
  const auto findings = pair_findings(sheet, m);
  REQUIRE(findings.size() == 4);
  CHECK(findings[1].id == "scales_unlike");
  CHECK(*findings[1].value == base::test::near(2.1e-3));
}
