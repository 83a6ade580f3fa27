// Findings of other stations that no capture shows: who is told, who is not, and the list of difficulties.
#include "diagnosis/told_elsewhere.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

#include "diagnosis/causes_station.h"
#include "diagnosis/troubles.h"

namespace evenbeam::diagnosis {
namespace {

base::StationResult station(const char* name, const char* id, base::Verdict verdict, const char* next = "") {
  return {.name = name, .findings = {{.id = id, .verdict = verdict, .text = "Seen.", .next = next}}};
}

std::string state_of(const std::vector<base::Row>& rows, int number) {
  for (const base::Row& row : rows)
    if (*base::find_number(row, "row") == number)
      for (const auto& [key, cell] : row)
        if (key == "state") return std::get<std::string>(cell);
  return "";
}

}  // namespace

TEST_CASE("each trouble that another station asks is told with its words and a next step, and a pass is not") {
  using enum base::Verdict;
  const struct {
    const char *station, *id;
    base::Verdict verdict;
    bool told;
  } cases[] = {{"marks", "search_can_fail", stop, true},      {"marks", "search_can_fail", attention, true},
               {"trips", "skew_trip", attention, true},       {"trips", "skew_trip", pass, false},
               {"trips", "faults_not_held", attention, true}, {"trips", "latency_budget", attention, true},
               {"trips", "captured_07", stop, true},          {"square", "out_of_square", attention, true},
               {"square", "set_right", stop, true},           {"square", "set_right", attention, false},
               {"loops", "peak_sensitivity", stop, true},     {"loops", "peak_sensitivity", attention, false},
               {"loops", "no_settings", stop, true},          {"survey", "search_can_fail", stop, false}};
  for (const auto& c : cases) {
    const auto told = told_elsewhere({station(c.station, c.id, c.verdict)});
    CAPTURE(c.id);
    REQUIRE(told.size() == (c.told ? 1u : 0u));
    if (!c.told) continue;
    CHECK(told[0].id == std::string("elsewhere_") + c.station + "_" + c.id);
    CHECK(told[0].verdict == not_done);
    CHECK(told[0].text.find("Seen.") != std::string::npos);
    CHECK_FALSE(told[0].next.empty());
  }
  CHECK(told_elsewhere({station("trips", "skew_trip", attention, "Do this.")})[0].next == "Do this.");
}

TEST_CASE("the list has rows 1 to 42 once each; what is told elsewhere has no odds and is named in its rows") {
  std::set<int> rows;
  for (const Trouble& t : troubles()) {
    CHECK(rows.insert(t.row).second);
    CHECK(t.settle[0] != '\0');
  }
  CHECK(rows.size() == 42);
  CHECK(*rows.begin() == 1);
  CHECK(*rows.rbegin() == 42);
  const base::StationOutcome out =
      causes_station({}, {}, {}, {station("marks", "search_can_fail", base::Verdict::stop)});
  CHECK(base::find_finding(out.result, "elsewhere_marks_search_can_fail") != nullptr);
  CHECK(std::holds_alternative<std::monostate>(base::find_value(out.result, "cause_odds")->value));
  const auto& told = std::get<std::vector<base::Row>>(base::find_value(out.result, "troubles")->value);
  CHECK(state_of(told, 1) == "named");
  CHECK(state_of(told, 5) == "named");
  CHECK(state_of(told, 9) == "no capture tells");
  CHECK(state_of(told, 23) == "not named");
}

}  // namespace evenbeam::diagnosis
