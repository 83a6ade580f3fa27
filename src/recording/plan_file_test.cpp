#include "recording/plan_file.h"

#include <doctest/doctest.h>

#include <fstream>
#include <sstream>

#include "base/message_of_test.h"
#include "base/near_test.h"
#include "recording/import.h"
#include "recording/synthetic_test.h"

namespace evenbeam::recording {
namespace {

const std::string kFirst = "format = \"evenbeam.recordings/1\"\n";  // line 1 of each text below
std::string in_file(const std::string& lines) { return kFirst + "[files.\"x.csv\"]\n" + lines + "\n"; }

std::string message_of(const std::string& text) {
  return base::test::message_of([&] { read_plan_file(text, "recordings.toml"); });
}

}  // namespace

TEST_CASE("an entry takes over what [all] states and replaces it where it says otherwise") {
  const PlanFile plans = read_plan_file(kFirst + R"(
[all]
carriage_y = "0.4 m"
position_unit = "um"
rate = "1 kHz"
loops = "soft"

[loops.soft]
mean = { position_gain = "8 1/s", velocity_gain = "12000 N*s/m" }

[files."a.csv"]
kind = "multisine"
excited = "b"
excitation_period = "2 s"
carriage_y = "-85 cm"
payload = "25 kg"
temperature = "31 degC"
switch_on = "one"
columns = ["time ms", "position_a", "position_b 0.5 um", "ignored"]
decimal = ","
separator = "tab"
b_late = "0.25 ms"
notes = "with a \"second\" try"
)",
                                        "recordings.toml");
  REQUIRE(plans.files.size() == 1);
  const RecordingPlan plan = plan_for(plans, "a.csv");
  CHECK(plan.kind == RunKind::multisine);
  CHECK(plan.excited == Excited::b);
  CHECK(plan.excitation_period_s == 2.0);
  CHECK(plan.carriage_y_m == -0.85);
  CHECK(plan.payload_kg == 25.0);
  CHECK(*plan.temperature_k == base::test::near(304.15));
  CHECK(plan.rate_hz == 1000.0);
  CHECK(plan.b_late_s == 0.25e-3);
  CHECK(plan.decimal_sign == ',');
  CHECK(plan.separator == '\t');
  CHECK(plan.fallback_units.position == "um");
  CHECK(plan.units.position.empty());
  REQUIRE(plan.columns.size() == 4);
  CHECK(plan.columns[1].role == ColumnRole::position_a);
  CHECK(plan.columns[2].unit == "0.5 um");
  REQUIRE(plan.loops);
  CHECK(plan.loops->mean.position_gain_per_s == 8);
  const RecordingPlan other = plan_for(plans, "unknown.csv");
  CHECK(other.file == "unknown.csv");
  CHECK(other.carriage_y_m == 0.4);
  CHECK(other.columns.empty());
}

TEST_CASE("what the program guesses is appended, read back and then rules") {
  const test::Capture truth = test::capture();
  const std::string bytes = test::text_of(truth, test::Form{});
  const ImportResult first = import_recording("1 odd \"name\".csv", bytes, nullptr, test::machine());
  const std::string own = kFirst + "# a remark of the person\n[files.\"z.csv\"]\nskip = \"wrong move\"";
  const std::string text = with_guesses(own, {first.plan}, "recordings.toml");
  CHECK(text.find(own) == 0);
  CHECK(with_guesses(text, {first.plan}, "recordings.toml") == text);  // named now, so left alone
  const PlanFile plans = read_plan_file(text, "recordings.toml");
  REQUIRE(plans.files.size() == 2);
  const RecordingPlan plan = plan_for(plans, "1 odd \"name\".csv");
  CHECK(plan.guessed);
  CHECK(plan.kind == first.recording.kind);
  CHECK(plan_for(plans, "z.csv").skip == "wrong move");
  const ImportResult second = import_recording(plan.file, bytes, &plan, test::machine());
  CHECK(second.recording.position_a_m == first.recording.position_a_m);
  CHECK(second.recording.force_b_n == first.recording.force_b_n);
  CHECK(second.plan.guessed);
  CHECK(with_guesses("", {first.plan}, "recordings.toml").find("guess = true") != std::string::npos);
}

TEST_CASE("wrong entries get messages with line, column and a right example") {
  struct Broken {
    std::string text, says;
  };
  const std::vector<Broken> broken{
      {"format = \"evenbeam.recordings/2\"", "recordings.toml:1:10: found format = \"evenbeam.recordings/2\""},
      {"format = ", "recordings.toml:1:"},
      {kFirst + "[file.\"x.csv\"]\nkind = \"nudge\"", "recordings.toml:2:2: found unknown key 'file'"},
      {kFirst + "files = 3", "recordings.toml:2:9: found files = 3"},
      {kFirst + "[all]\nkind = \"nudge\"", "recordings.toml:3:1: found unknown key 'kind'"},
      {in_file("kind = \"nudges\""), "recordings.toml:3:8: found kind = \"nudges\""},
      {in_file("kind = \"nudges\""), "Did you mean kind = \"nudge\"?"},
      {in_file("knid = \"nudge\""), "'kind' perhaps"},
      {in_file("carriage_y = 0.4"), "recordings.toml:3:14: found carriage_y = 0.4; expected a length"},
      {in_file("carriage_y = \"0.4\""), "carriage_y = \"0.40 m\""},
      {in_file("carriage_y = \"0,4 m\""), "the decimal sign is a point"},
      {in_file("carriage_y = \"4 kg\""), "expected a length"},
      {in_file("carriage_y = \"400 m\""), "from -50 m to 50 m"},
      {in_file("payload = \"-1 kg\""), "recordings.toml:3:11"},
      {in_file("rate = \"1 ms\""), "expected a frequency"},
      {in_file("temperature = \"31 mm\""), "expected a temperature"},
      {in_file("temperature = \"31 K\""), "recordings.toml:3:15"},
      {in_file("excited = \"left\""), "\"a\", \"b\" or \"both\""},
      {in_file("excitation_period = \"0 s\""), "from 0.001 s"},
      {in_file("position_unit = \"count/s\""), "m, mm, um, in or count"},
      {in_file("time_unit = \"mm\""), "s, ms, us or sample"},
      {in_file("output_unit = \"V\""), "%, N or A"},
      {in_file("separator = \"|\""), "recordings.toml:3:13"},
      {in_file("decimal = 1"), "\".\" or \",\""},
      {in_file("columns = \"time s\""), "a list of texts, each in quotes"},
      {in_file("columns = [\"time s\", \"pos_a mm\"]"), "found \"pos_a mm\"; expected a role"},
      {in_file("columns = [\"time s\", \"position_a %\"]"), "found \"position_a %\""},
      {in_file("columns = [\"?\", \"position_a mm\"]"), "found \"?\""},
      {in_file("columns = [\"ignored mm\"]"), "found \"ignored mm\""},
      {in_file("columns = [\"position_a mm\", \"position_a um\"]"), "found two columns \"position_a\""},
      {in_file("loops = \"soft\""), "Add a table [loops.soft]"},
      {in_file("guess = \"yes\""), "true or false"},
      {in_file("switch_on = 1"), "text in quotes"},
      {in_file("b_late = \"5 s\""), "recordings.toml:3:10"},
      {in_file("[loops.soft]\nmean = { position_gain = \"8 mm\" }"), "recordings.toml:4:"},
      {in_file("kind = \"nudge\"\nkind = \"search\""), "recordings.toml:4:"},
  };
  for (const Broken& file : broken) {
    const std::string message = message_of(file.text);
    INFO(file.text << "\n" << message);
    CHECK(message.find(file.says) != std::string::npos);
  }
  // All in one go, in the order of the file.
  const std::string all = message_of(in_file("kind = \"x\"\npayload = 3\nrate = \"fast\""));
  CHECK(all.find("toml:3:") < all.find("toml:4:"));
  CHECK(all.find("toml:4:") < all.find("toml:5:"));
  CHECK(all.find("toml:5:") != std::string::npos);
}

TEST_CASE("the entries of bridge-v can be read") {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/checks/bridge-v/recordings.toml");
  std::stringstream text;
  text << file.rdbuf();
  const PlanFile plans = read_plan_file(text.str(), "recordings.toml");
  REQUIRE(plans.files.size() == 13);
  const RecordingPlan plan = plan_for(plans, "08-testmove-carriage-right-25kg.csv");
  CHECK(plan.payload_kg == 25.0);
  REQUIRE(plan.loops);
  CHECK(plan.loops->mass_ff_kg == 585);
  CHECK(plan.loops->skew.velocity_gain_n_s_per_m == 6000);
}

}  // namespace evenbeam::recording
