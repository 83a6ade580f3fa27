// The next step's commands and the table of rules are one thing.
#include <doctest/doctest.h>

#include "rehearsal/session.h"
#include "workflow/next_step.h"

using namespace evenbeam;
using namespace evenbeam::workflow;

namespace {

// An evaluation in which `open` alone has no answer yet.
Evaluation only_open(const std::string& open) {
  Evaluation e;
  for (const Station& s : stations())
    e.stations.push_back({.result = {.name = s.name,
                                     .verdict = s.name == open || s.answer == nullptr ? base::Verdict::not_done
                                                                                      : base::Verdict::pass}});
  return e;
}

constexpr const char* no_search = R"(format = "evenbeam.rehearsal/1"
[[rule]]
operation = "search"
states = ["tied", "referenced"]
goes_to = "refused"
reason = "This controller searches by itself."
instead = "Start its own program."
)";

}  // namespace

TEST_CASE("a search is reached by the commands that the table allows, both closed anew after tying") {
  const NextStep next = next_step(only_open("marks"), stations());
  REQUIRE(next.station == "marks");
  CHECK(next.commands == std::vector<std::string>{"enable: both sides", "close: both sides", "tie: both sides",
                                                  "close: both sides", "search: both sides"});
  CHECK(next_step(only_open("nudge"), stations()).commands ==
        std::vector<std::string>{"enable: both sides", "push: either side"});
  CHECK(next_step(only_open("prove"), stations()).commands.back() == "jog both: A alone");
}

TEST_CASE("the moves to prove are the machine's own, at the carriage places and payloads planned") {
  Evaluation e = only_open("prove");
  CHECK(next_step(e, stations()).what.find("the process's own move") != std::string::npos);
  e.machine.span_m = 2;
  e.machine.carriage_min_y_m = -0.8, e.machine.carriage_max_y_m = 0.6, e.machine.payload_max_kg = 25;
  e.machine.moves = {{"pick", 0.4, 1, 5, 100}, {"travel", 1.2, 1.5, 5, 100}};
  const NextStep next = next_step(e, stations());
  for (const char* words : {"\"pick\" (0.4 m at 1 m/s and 5 m/s^2); \"travel\" (1.2 m", "y = -0.80; -0.10; 0.60 m",
                            "payload of 0; 25 kg"}) {
    CAPTURE(std::string(words));
    CHECK(next.what.find(words) != std::string::npos);
    CHECK(next.capture->move.find(words) != std::string::npos);
  }
}

TEST_CASE("squareness is asked for last where the bridge is recorded to home free") {
  Evaluation e = only_open("square");
  for (base::StationOutcome& outcome : e.stations)
    if (outcome.result.name == "loops") outcome.result.verdict = base::Verdict::not_done;
  CHECK(next_step(e, stations()).station == "square");
  e.machine.home_attitude = "free";
  CHECK(next_step(e, stations()).station == "loops");
  for (base::StationOutcome& outcome : e.stations)
    if (outcome.result.name == "loops") outcome.result.verdict = base::Verdict::pass;
  CHECK(next_step(e, stations()).station == "square");
}

TEST_CASE("a job's own rule changes the next step") {
  Evaluation e = only_open("marks");
  e.rules = rehearsal::corrected(rehearsal::common_practice(), no_search, "rehearsal.toml");
  const NextStep next = next_step(e, stations());
  REQUIRE(next.commands.size() == 2);
  CHECK(next.commands.front() ==
        "search in tied is refused: This controller searches by itself. Start its own program.");
  e.rules = rehearsal::common_practice();
  e.rules.commanding_side_is_a = false;
  CHECK(next_step(e, stations()).commands.back() == "search: both sides");
}

TEST_CASE("each way found replays right from off") {
  const rehearsal::RuleTable table = rehearsal::common_practice();
  for (const Station& s : stations()) {
    if (!s.capture.operation) continue;
    CAPTURE(s.name);
    rehearsal::Pair pair;
    const auto way = rehearsal::way_to(table, pair, *s.capture.operation, s.capture.in);
    REQUIRE(!way.empty());
    for (const auto& step : way) CHECK(rehearsal::judge(table, pair, step.step).right);
    CHECK(way.back().step.operation == *s.capture.operation);
  }
}
