#include "workflow/gates.h"

#include <doctest/doctest.h>

#include <algorithm>

#include "workflow/next_step.h"

namespace evenbeam::workflow {
namespace {

base::StationOutcome answered(StationInput&) { return {}; }

CaptureSheet sheet(const std::string& level) { return {"push", "A", level, "50 ms", "all", "skew"}; }

// a <- b <- c as the line's needs; c and loops are built.
std::vector<Station> small_line() {
  return {{"a", "A?", {}, {}, sheet("none"), answered},
          {"b", "B?", {"a"}, {}, sheet("none"), nullptr},
          {"loops", "L?", {"b"}, {}, sheet("5 %"), answered},
          {"prove", "P?", {"loops"}, {}, sheet("5 %"), answered}};
}

base::StationOutcome outcome(const std::string& name, base::Verdict verdict, const std::string& id = "seen",
                             const std::string& next = "Do this.") {
  base::Finding finding{.id = id, .verdict = verdict, .text = "Seen.", .next = next};
  return {.result = {.name = name, .verdict = verdict, .findings = {finding}}};
}

Evaluation with(base::Verdict a, base::Verdict b, base::Verdict loops, base::Verdict prove) {
  Evaluation evaluation;
  evaluation.stations = {outcome("a", a), outcome("b", b), outcome("loops", loops), outcome("prove", prove)};
  return evaluation;
}

constexpr base::Verdict pass = base::Verdict::pass, attention = base::Verdict::attention, stop = base::Verdict::stop,
                        nothing = base::Verdict::not_done;

}  // namespace

TEST_CASE("a stop holds back what needs it, directly and through others, and nothing above it") {
  const auto line = small_line();
  const Evaluation evaluation = with(stop, pass, pass, stop);
  CHECK(held_by("a", evaluation, line).empty());
  CHECK(held_by("b", evaluation, line) == std::vector<std::string>{"a"});
  CHECK(held_by("prove", evaluation, line) == std::vector<std::string>{"a"});
  CHECK(acceptance_held_by(evaluation, line) == std::vector<std::string>{"a"});
  CHECK(acceptance_held_by(with(pass, pass, stop, pass), line) == std::vector<std::string>{"loops"});
  CHECK(acceptance_held_by(with(attention, nothing, pass, stop), line).empty());
}

TEST_CASE("an override opens the stop it was made for and no other") {
  const auto line = small_line();
  Evaluation evaluation = with(stop, pass, pass, pass);
  evaluation.overrides = {{"a", "seen by two", "Ada", {"seen"}}};
  CHECK(held_by("loops", evaluation, line).empty());
  CHECK(overall_verdict(evaluation) == attention);
  evaluation.stations[0].result.findings.push_back({.id = "another", .verdict = stop});
  CHECK(held_by("loops", evaluation, line) == std::vector<std::string>{"a"});
  CHECK(overall_verdict(evaluation) == stop);
  evaluation.overrides = {{"b", "seen by two", "Ada", {"seen"}}};
  CHECK(overrides_of(evaluation, evaluation.stations[1].result).empty());
}

TEST_CASE("each stop of a station can be set aside by itself; the station is held until all are") {
  Evaluation evaluation = with(stop, pass, pass, pass);
  auto& a = evaluation.stations[0].result;
  a.findings.push_back({.id = "another", .verdict = stop});
  evaluation.overrides = {{"a", "seen by two", "Ada", {"seen"}}};
  CHECK(open_stops(evaluation, a) == std::vector<std::string>{"another"});
  CHECK(has_open_stop(evaluation, "a"));
  journal::add_override({"a", "measured again", "Bo", {"another"}}, evaluation.overrides);
  CHECK(evaluation.overrides.size() == 2);
  CHECK_FALSE(has_open_stop(evaluation, "a"));
  CHECK(overall_verdict(evaluation) == attention);
  CHECK(overrides_of(evaluation, a).size() == 2);
  journal::add_override({"a", "better said", "Bo", {"another"}}, evaluation.overrides);
  CHECK(evaluation.overrides.size() == 2);
  CHECK(evaluation.overrides.back().reason == "better said");
}

TEST_CASE("exit codes follow the worst verdict") {
  CHECK(exit_code(overall_verdict(with(pass, pass, pass, pass))) == 0);
  CHECK(exit_code(overall_verdict(with(pass, pass, nothing, pass))) == 0);
  CHECK(exit_code(overall_verdict(with(pass, attention, pass, pass))) == 1);
  CHECK(exit_code(overall_verdict(with(pass, attention, stop, pass))) == 2);
  CHECK(exit_code(overall_verdict(with(nothing, nothing, nothing, nothing))) == 1);
}

TEST_CASE("the next step is the first stop, then the first capture, then the first attention, then acceptance") {
  const auto line = small_line();
  const NextStep stopped = next_step(with(attention, stop, nothing, stop), line);
  CHECK(stopped.kind == NextStep::Kind::answer_stop);
  CHECK(stopped.station == "b");
  CHECK(stopped.what == "Do this.");
  CHECK(stopped.holds_back == std::vector<std::string>{"loops", "prove"});

  const NextStep capture = next_step(with(attention, nothing, nothing, nothing), line);
  CHECK(capture.kind == NextStep::Kind::make_capture);
  CHECK(capture.station == "loops");  // b is not built and holds nobody up
  REQUIRE(capture.capture);
  CHECK(capture.capture->record == "all");
  CHECK_FALSE(capture.cautions.empty());
  CHECK(next_step(with(nothing, pass, pass, pass), line).cautions.empty());  // nothing moves

  CHECK(next_step(with(pass, attention, pass, pass), line).kind == NextStep::Kind::answer_attention);
  Evaluation passed = with(pass, pass, pass, pass);
  CHECK(next_step(passed, line).kind == NextStep::Kind::nothing);
  passed.settings = machine::Settings{};
  CHECK(next_step(passed, line).kind == NextStep::Kind::accept_settings);
  CHECK(next_step(passed, line).sharpen.empty());
}

TEST_CASE(
    "the capture that loops would have next is offered with its cautions, and never before a stop or a capture") {
  const auto line = small_line();
  Evaluation evaluation = with(pass, pass, pass, pass);
  evaluation.stations[2].result.findings.push_back(
      {.id = "next_capture", .verdict = pass, .text = "May add 3 um.", .next = "Move at the A end."});
  evaluation.settings = machine::Settings{};
  const NextStep offered = next_step(evaluation, line);
  CHECK(offered.kind == NextStep::Kind::accept_settings);
  CHECK(offered.sharpen == "May add 3 um. Move at the A end.");
  CHECK_FALSE(offered.cautions.empty());
  evaluation.stations[0].result.verdict = attention;
  CHECK_FALSE(next_step(evaluation, line).sharpen.empty());
  evaluation.stations[3].result.verdict = nothing;
  CHECK(next_step(evaluation, line).sharpen.empty());          // a capture is asked for: one thing to do now
  evaluation.stations[2].result.findings.back().next.clear();  // nothing would narrow it
  evaluation.stations[3].result.verdict = pass;
  CHECK(next_step(evaluation, line).sharpen.empty());
}

TEST_CASE("the level of an open-loop push comes from limits or is unknown, never made up") {
  std::vector<Station> line{{"nudge", "N?", {}, {}, sheet("no more than `limits` allows"), answered}};
  Evaluation evaluation;
  evaluation.stations = {outcome("limits", pass), outcome("nudge", nothing)};
  CHECK(next_step(evaluation, line).capture->level.find("unknown") == 0);
  auto& values = evaluation.stations[0].result.values;
  values.emplace_back("push_level", base::Value{.value = 0.034, .unit = "1"});
  values.emplace_back("push_time_s", base::Value{.value = 0.012, .unit = "s"});
  values.emplace_back("push_force_n", base::Value{.value = 45.0, .unit = "N"});
  const CaptureSheet found = *next_step(evaluation, line).capture;
  CHECK(found.level == "at most 3.4 % of peak force (45 N)");
  CHECK(found.duration.find("each push 12 ms at most") == 0);
  values[0].second.value = std::monostate{};
  CHECK(next_step(evaluation, line).capture->level.find("unknown") == 0);
}

TEST_CASE("a new machine is pushed before its loops are closed, and not before a safe level is known") {
  const auto& line = stations();
  Evaluation evaluation;
  for (const Station& station : line) evaluation.stations.push_back(outcome(station.name, nothing));
  CHECK(next_step(evaluation, line).station == "ready");  // nothing has moved: the sheet comes first
  Evaluation moved = evaluation;
  moved.recordings.push_back({.name = "push.csv", .kind = recording::RunKind::nudge});
  CHECK(next_step(moved, line).station == "limits");  // a machine that has moved is asked for it last
  moved.recordings[0].kind = recording::RunKind::one_side;
  CHECK(next_step(moved, line).station == "ready");
  evaluation.recordings.push_back({.name = "push.csv", .kind = recording::RunKind::nudge});
  auto& limits = evaluation.stations[2].result;
  REQUIRE(limits.name == "limits");
  limits = outcome("limits", attention).result;
  CHECK(next_step(evaluation, line).station == "limits");
  limits.values.emplace_back("push_level", base::Value{.value = 0.034, .unit = "1"});
  limits.values.emplace_back("push_time_s", base::Value{.value = 0.012, .unit = "s"});
  const NextStep push = next_step(evaluation, line);
  CHECK(push.station == "nudge");
  CHECK(push.cautions.front().find("fit to be moved") != std::string::npos);
  evaluation.stations[3] = outcome("nudge", pass);
  CHECK(next_step(evaluation, line).station == "survey");
}

TEST_CASE("the line itself: every need and use names a station, every capture sheet is filled") {
  const auto& line = stations();
  const auto known = [&](const std::string& name) {
    return std::any_of(line.begin(), line.end(), [&](const Station& one) { return one.name == name; });
  };
  for (const Station& station : line) {
    INFO(station.name);
    for (const std::string& name : station.needs) CHECK(known(name));
    for (const std::string& name : station.uses) CHECK(known(name));
    const CaptureSheet& c = station.capture;
    for (const std::string& words : {c.move, c.side, c.level, c.duration, c.record, c.watch})
      CHECK_FALSE(words.empty());
    CHECK_FALSE(not_done(station).result.findings[0].next.empty());
  }
}

}  // namespace evenbeam::workflow
