#include "journal/result_file.h"

#include <doctest/doctest.h>

#include <limits>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "journal/compare.h"

namespace evenbeam::journal {
namespace {

Result example() {
  base::StationResult fit{.name = "fit", .verdict = base::Verdict::attention};
  fit.findings.push_back({.id = "mass",
                          .verdict = base::Verdict::attention,
                          .text = "Heavier than the papers say.",
                          .value = 401.5,
                          .unit = "kg",
                          .lower = 399.0,
                          .upper = 404.0,
                          .limit = 380.0,
                          .source = "machine.toml",
                          .recording = "06.csv",
                          .from_s = 0.1,
                          .to_s = 2.3,
                          .next = "Weigh it."});
  fit.values.emplace_back("moving_mass_kg",
                          base::Value{.value = 401.5, .unit = "kg", .lower = 399.0, .upper = 404.0});
  fit.values.emplace_back("delay_s", base::Value{.unit = "s"});
  fit.values.emplace_back("mode_hz", base::Value{.value = std::vector<double>{31.25, 1.0 / 3.0}, .unit = "Hz"});
  fit.values.emplace_back("home_attitude", base::Value{.value = std::string("free"), .unit = ""});
  fit.values.emplace_back(
      "force_share",
      base::Value{.value = std::vector<base::Row>{{{"y_m", -0.8}, {"share", 0.44}, {"move", "a.csv"}}}, .unit = "1"});
  return {.job = "bench", .inputs = {{"machine.toml", "ab"}, {"06.csv", ""}}, .stations = {fit, {.name = "ready"}}};
}

}  // namespace

TEST_CASE("result.json has the documented form") {
  const base::Json json = base::parse_json(to_text(example()), "result.json");
  CHECK(json["schema"] == "evenbeam.result/1");
  CHECK(json["inputs"][0] == base::Json{{"file", "machine.toml"}, {"sha256", "ab"}});
  CHECK(json["inputs"][1]["sha256"].is_null());
  CHECK(json["stations"]["ready"] ==
        base::Json{{"verdict", "not done"}, {"findings", base::Json::array()}, {"values", base::Json::object()}});
  const base::Json& fit = json["stations"]["fit"];
  std::string keys;
  for (const auto& [key, value] : fit["findings"][0].items()) keys += key + " ";
  CHECK(keys == "id verdict text value unit lower upper limit source recording from_s to_s next ");
  CHECK(fit["values"]["delay_s"] ==
        base::Json{{"value", nullptr}, {"unit", "s"}, {"lower", nullptr}, {"upper", nullptr}, {"level", 0.95}});
  CHECK(fit["values"]["force_share"]["value"][0] == base::Json{{"y_m", -0.8}, {"share", 0.44}, {"move", "a.csv"}});
}

TEST_CASE("what was written reads back to the same bytes and the same numbers") {
  const std::string text = to_text(example());
  const Result back = read_result(text, "result.json");
  CHECK(to_text(back) == text);
  CHECK(std::get<std::vector<double>>(base::find_value(back.stations[0], "mode_hz")->value)[1] == 1.0 / 3.0);
  CHECK(std::holds_alternative<std::monostate>(base::find_value(back.stations[0], "delay_s")->value));
  CHECK(back.stations[0].findings[0].to_s == 2.3);
}

TEST_CASE("a number that is not finite is unknown") {
  Result result = example();
  result.stations[0].values[0].second.value = std::numeric_limits<double>::quiet_NaN();
  result.stations[0].findings[0].value = std::numeric_limits<double>::infinity();
  const base::Json json = base::parse_json(to_text(result), "result.json");
  CHECK(json["stations"]["fit"]["values"]["moving_mass_kg"]["value"].is_null());
  CHECK(json["stations"]["fit"]["findings"][0]["value"].is_null());
}

TEST_CASE("another schema, a cut file or a missing key is refused") {
  const std::string text = to_text(example());
  for (std::size_t length = 0; length + 2 < text.size(); length += 97)
    CHECK_THROWS_AS(read_result(text.substr(0, length), "r"), base::InputError);
  CHECK_THROWS_AS(read_result(R"({"schema": "evenbeam.result/2"})", "r"), base::InputError);
  CHECK_THROWS_AS(read_result(R"({"schema": "evenbeam.result/1", "job": "x"})", "r"), base::InputError);
  CHECK_THROWS_AS(read_result("[1, 2]", "r"), base::InputError);
}

TEST_CASE("an evaluation comes back from its journal entry") {
  const EvaluationRecord record{.program = "evenbeam 9",
                                .result = example(),
                                .result_sha256 = "cd",
                                .settings_toml = "[loops]\nshare = 0.44\n",
                                .overrides = {{"fit", "weighed by hand", "Ada", {"mass"}}}};
  const EvaluationRecord back = evaluation_of({.kind = "evaluation", .body = to_body(record)});
  CHECK(to_body(back) == to_body(record));
  CHECK_THROWS_AS(evaluation_of({.kind = "override", .body = "{}"}), base::InputError);
  CHECK_THROWS_AS(evaluation_of({.kind = "evaluation", .body = "{}"}), base::InputError);
  const std::vector<Entry> entries{{.kind = "override", .body = to_body(Override{"fit", "first", "Ada", {}})},
                                   {.kind = "override", .body = to_body(Override{"fit", "second", "Bo", {"mass"}})}};
  REQUIRE(overrides_of(entries).size() == 1);
  CHECK(overrides_of(entries)[0].reason == "second");
  CHECK(headline(entries[1]) == "Bo set the stop of fit aside: second");
}

TEST_CASE("a comparison names causes and effects, and is silent inside the intervals") {
  const EvaluationRecord before{.program = "evenbeam 9", .result = example(), .settings_toml = "[mean]\ngain = 1\n"};
  EvaluationRecord after = before;
  CHECK(compare(before, after).why == "Nothing changed: same inputs, same program, same answers.");
  after.overrides = {{"fit", "weighed", "Ada", {"mass"}}};
  CHECK(compare(before, after).why == "Inputs and program are the same: what changed is a person's decision.");
  after.result.stations[1].verdict = base::Verdict::pass;
  CHECK(compare(before, after).why.find("still the answers differ") != std::string::npos);
  after = before;
  after.result.inputs[1].sha256 = "new";
  after.result.inputs.push_back({"07.csv", "x"});
  auto& mass = after.result.stations[0].values[0].second;
  mass.value = 402.5;  // inside the old interval
  CHECK(compare(before, after).effects.empty());
  mass = {.value = 420.0, .unit = "kg", .lower = 418.0, .upper = 422.0};
  after.result.stations[1].verdict = base::Verdict::pass;
  after.settings_toml = "[mean]\ngain = 2\n";
  after.overrides = {{"fit", "weighed", "Ada", {"mass"}}};
  const Comparison c = compare(before, after);
  CHECK(c.why == "What can have changed it: 06.csv has other content, 07.csv is new.");
  REQUIRE(c.effects.size() == 4);
  CHECK(c.effects[0].place == "fit.moving_mass_kg");
  CHECK(c.effects[0].text == "401.5 kg (399 to 404) -> 420 kg (418 to 422)");
  CHECK(c.effects[1].text == "not done -> pass");
  CHECK(c.effects[2].place == "[mean]gain");
  CHECK(c.effects[3].text == "set aside by Ada: weighed");
}

TEST_CASE("two visits: what stays inside the baseline's thresholds is no change, what leaves them is told") {
  const auto visit = [](double friction_n, double yaw_hz, double brake_s) {
    const auto row = [](const char* quantity, const char* unit, double value, double below, double above) {
      return base::Row{{"quantity", std::string(quantity)},
                       {"unit", std::string(unit)},
                       {"value", value},
                       {"lower", value},
                       {"upper", value},
                       {"changed_below", below},
                       {"changed_above", above}};
    };
    base::StationResult trips{.name = "trips"};
    trips.values.emplace_back(
        "service", base::Value{.value = std::vector<base::Row>{row("friction of A", "N", friction_n, 70, 130),
                                                               row("yaw frequency", "Hz", yaw_hz, 9.5, 10.5),
                                                               row("brake A closes in", "s", brake_s, 0.02, 0.06)}});
    return EvaluationRecord{.program = "evenbeam 9", .result = {.job = "bench", .stations = {trips}}};
  };
  const EvaluationRecord first = visit(100, 10, 0.04);
  CHECK(compare(first, visit(125, 9.6, 0.05)).effects.empty());
  const Comparison worn = compare(first, visit(140, 9.0, 0.07));
  REQUIRE(worn.effects.size() == 3);
  CHECK(worn.effects[0].text == "friction of A 100 -> 140 N, outside 70 to 130");
  CHECK(worn.effects[1].text == "yaw frequency 10 -> 9 Hz, outside 9.5 to 10.5");
  CHECK(worn.effects[2].text == "brake A closes in 0.04 -> 0.07 s, outside 0.02 to 0.06");
}

TEST_CASE("numbers without an interval and settings by less than a hundredth are kept apart, largest first") {
  base::StationResult loops{.name = "loops"};
  loops.values.emplace_back("mass_ff_kg", base::Value{.value = 200.0, .unit = "kg"});
  loops.values.emplace_back("filter_hz", base::Value{.value = 100.0, .unit = "Hz"});
  loops.values.emplace_back("reaction", base::Value{.value = std::string("off")});
  loops.values.emplace_back("forecast",
                            base::Value{.value = std::vector<base::Row>{{{"peak_m", 1e-4}}, {{"peak_m", 2e-4}}}});
  const EvaluationRecord before{
      .program = "evenbeam 9",
      .result = {.job = "bench", .stations = {loops}},
      .settings_toml = "share = \"0.4701\"\n[skew]\nfilters = [\n  { frequency = \"50 Hz\", zn = \"1\" },\n]\n"};
  EvaluationRecord after = before;
  auto& values = after.result.stations[0].values;
  values[0].second.value = 202.0, values[1].second.value = 150.0, values[2].second.value = std::string("follow");
  std::get<std::vector<base::Row>>(values[3].second.value)[1][0].second = 2.1e-4;
  after.settings_toml =
      "share = \"0.4702\"\n[skew]\nfilters = [\n  { frequency = \"60.123456 Hz\", zn = \"1\" },\n]\n";
  const Comparison c = compare(before, after);
  REQUIRE(c.effects.size() == 2);
  CHECK(c.effects[0].text == "off -> follow");
  CHECK(c.effects[1].place == "[skew]filters 1");
  CHECK(c.effects[1].text == "{ frequency = \"50 Hz\", zn = \"1\" }, -> { frequency = \"60.12 Hz\", zn = \"1\" },");
  REQUIRE(c.unsure.size() == 4);
  CHECK(c.unsure[0].place == "loops.filter_hz");
  CHECK(c.unsure[1].place == "loops.mass_ff_kg");
  CHECK(c.unsure[2].text == "\"0.4701\" -> \"0.4702\"");
  CHECK(c.unsure[3].text == "1 of 2 entries differ, by 4.8 % at most");
  // The same inputs must give the same numbers, interval or not.
  CHECK(c.why.find("still the answers differ") != std::string::npos);
}

TEST_CASE("many files of one kind are counted") {
  EvaluationRecord before{.program = "evenbeam 9"}, after = before;
  for (const char* file : {"1.csv", "2.csv", "3.csv", "4.csv"}) {
    before.result.inputs.push_back({file, "old"});
    after.result.inputs.push_back({file, "new"});
  }
  after.result.inputs.push_back({"5.csv", "x"});
  before.settings_toml = "a = \"1\"\n", after.settings_toml = "a = \"2\"\n";
  CHECK(compare(before, after).why == "What can have changed it: 4 files have other content, 5.csv is new.");
}

}  // namespace evenbeam::journal
