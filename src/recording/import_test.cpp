#include "recording/import.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>

#include "base/input_error.h"
#include "base/near_test.h"
#include "recording/import_checks_test.h"
#include "recording/plan_file.h"

namespace evenbeam::recording {
namespace {

using test::check_columns;
using test::check_same;
using test::Form;

}  // namespace

TEST_CASE("a plain capture gives its columns in SI") {
  const test::Capture truth = test::capture();
  const ImportResult result = import_recording("x.csv", test::text_of(truth, Form{}), nullptr, test::machine());
  check_columns(result, truth, "plain");
  CHECK(result.plan.guessed);
}

TEST_CASE("what the person states rules") {
  const test::Capture truth = test::capture();
  Form form;
  form.names = test::bare_names;
  RecordingPlan plan;
  plan.units = {"s", "mm", "%"};
  check_columns(import_recording("x.csv", test::text_of(truth, form), &plan, test::machine()), truth,
                "stated groups");

  form.names = {"a", "b", "c", "d", "e", "f", "g"};
  plan.columns = {{ColumnRole::time, "s"},         {ColumnRole::reference_a, "mm"},
                  {ColumnRole::reference_b, "mm"}, {ColumnRole::position_a, "1000 um"},
                  {ColumnRole::position_b, "mm"},  {ColumnRole::output_a, "%"},
                  {ColumnRole::output_b, "%"}};
  const ImportResult stated = import_recording("x.csv", test::text_of(truth, form), &plan, test::machine());
  check_columns(stated, truth, "stated columns");
  CHECK_FALSE(stated.plan.guessed);

  plan.names = {"a", "b", "c", "e", "d", "f", "g"};  // planned for another order
  CHECK_THROWS_AS(import_recording("x.csv", test::text_of(truth, form), &plan, test::machine()), base::InputError);
}

TEST_CASE("outputs that nobody can scale are left out and said, the positions stay") {
  const test::Capture truth = test::capture();
  machine::Machine machine = test::machine();
  machine.a.peak_force_n.reset();
  const ImportResult result = import_recording("x.csv", test::text_of(truth, Form{}), nullptr, machine);
  CHECK(result.recording.force_a_n.empty());
  CHECK(result.recording.force_b_n.size() == truth.force_b_n.size());
  check_same(result.recording.position_a_m, truth.position_a_m, 1e-9, "position A");
  REQUIRE(!result.recording.findings.empty());
  CHECK(result.recording.findings.front().next.find("peak_force") != std::string::npos);

  // The guess that is written down can be read again, and serves once the machine says what an output is.
  const PlanFile plans = read_plan_file(with_guesses("", {result.plan}, "recordings.toml"), "recordings.toml");
  const RecordingPlan plan = plan_for(plans, "x.csv");
  const ImportResult later = import_recording("x.csv", test::text_of(truth, Form{}), &plan, test::machine());
  check_columns(later, truth, "after the machine was completed");
}

TEST_CASE("columns that are not used are named") {
  Form form;
  form.order.push_back(-1);
  form.names.push_back("Temperature bearing");
  const Recording r =
      import_recording("x.csv", test::text_of(test::capture(), form), nullptr, test::machine()).recording;
  REQUIRE(!r.findings.empty());
  CHECK(r.findings[0].text.find("Temperature bearing") != std::string::npos);
}

TEST_CASE("rates from 100 Hz to 50 kHz") {
  for (const double rate_hz : {100.0, 1000.0, 3000.0, 8000.0, 50000.0}) {
    INFO(rate_hz);
    const test::Capture truth = test::capture(1 / rate_hz);
    const Recording r = import_recording("x.csv", test::text_of(truth, Form{}), nullptr, test::machine()).recording;
    CHECK(std::abs(r.period_s * rate_hz - 1) < 1e-9);
    check_same(r.position_b_m, truth.position_b_m, 1e-9, "position B");
  }
}

TEST_CASE("the cross axis is read by its name or by what is stated; its counts have no length of their own") {
  std::string text = "t ms,ref_a mm,ref_b mm,ref_y mm,pos_a mm,pos_b mm,y_act mm\n";
  for (int k = 0; k < 400; ++k) {
    const double x = 300 + 50 * std::cos(0.03 * k), y = -100 + 50 * std::sin(0.03 * k);
    text += fmt::format("{},{:.4f},{:.4f},{:.4f},{:.3f},{:.3f},{:.3f}\n", 2 * k, x, x, y, x, x, y);
  }
  const ImportResult read = import_recording("c.csv", text, nullptr, test::machine());
  CHECK(has_cross_axis(read.recording));
  CHECK(read.recording.kind == RunKind::circle);
  CHECK(!read.recording.carriage_y_m);  // it stands nowhere
  CHECK(read.recording.position_y_m[0] == base::test::near(-0.1));
  CHECK(read.recording.count_y_m == base::test::near(1e-6).epsilon(1e-6));
  RecordingPlan plan;
  plan.file = "c.csv";
  for (const auto& [role, unit] : {std::pair{ColumnRole::time, "ms"},
                                   {ColumnRole::reference_a, "mm"},
                                   {ColumnRole::reference_b, "mm"},
                                   {ColumnRole::reference_y, "mm"},
                                   {ColumnRole::position_a, "mm"},
                                   {ColumnRole::position_b, "mm"},
                                   {ColumnRole::position_y, "count"}})
    plan.columns.push_back({.role = role, .unit = unit});
  try {
    std::string bare = text;
    bare.replace(0, bare.find('\n'), "1a,1b,1c,1d,1e,1f,1g");
    import_recording("c.csv", bare, &plan, test::machine());
    FAIL("counts of the cross axis were believed");
  } catch (const base::InputError& error) {
    CHECK(std::string(error.what()).find("position_y 0.5 um") != std::string::npos);
  }
}

}  // namespace evenbeam::recording
