// The importer on copies of one synthetic capture, written in every form that recorders are known to write: each copy
// gives the same columns in SI or is refused with the right question. A wrong silent guess fails here.
#include <doctest/doctest.h>

#include "base/input_error.h"
#include "recording/import_checks_test.h"

namespace evenbeam::recording {
namespace {

using test::bare_names;
using test::check_columns;
using test::Form;

struct Copy {
  std::string what;
  Form form;
  std::string question;  // part of the answer that is wanted where it must be refused; "" = must be read
};

Form with(void (*change)(Form&)) {
  Form form;
  change(form);
  return form;
}

std::vector<Copy> readable_copies() {
  std::vector<Copy> copies;
  const auto add = [&](std::string what, void (*change)(Form&)) {
    copies.push_back({std::move(what), with(change), ""});
  };
  add("semicolons", [](Form& f) { f.separator = ';'; });
  add("semicolons, decimal commas, mark, CRLF",
      [](Form& f) { f.separator = ';', f.decimal_sign = ',', f.before = "\xEF\xBB\xBF", f.line_end = "\r\n"; });
  add("tabs", [](Form& f) { f.separator = '\t'; });
  add("tabs and decimal commas", [](Form& f) { f.separator = '\t', f.decimal_sign = ','; });
  add("blanks", [](Form& f) { f.separator = ' '; });
  add("quoted, decimal commas between commas", [](Form& f) { f.quoted = true, f.decimal_sign = ','; });
  add("CRLF", [](Form& f) { f.line_end = "\r\n"; });
  add("no last line end", [](Form& f) { f.last_line_end = false; });
  add("separator at the end of each line", [](Form& f) { f.separator = ';', f.trailing_separator = true; });
  add("plus signs", [](Form& f) { f.plus_signs = true; });
  add("other order", [](Form& f) {
    f.order = {6, 4, 2, 0, 1, 3, 5};
    f.names = {"out_b_pct", "pos_b_mm", "ref_b_mm", "t_s", "ref_a_mm", "pos_a_mm", "out_a_pct"};
  });
  add("B before A", [](Form& f) {
    f.order = {0, 2, 1, 4, 3, 6, 5};
    f.names = {"t_s", "ref_b_mm", "ref_a_mm", "pos_b_mm", "pos_a_mm", "out_b_pct", "out_a_pct"};
  });
  add("a temperature in the middle", [](Form& f) {
    f.order = {0, 1, 2, -1, 3, 4, 5, 6};
    f.names = {"t_s", "ref_a_mm", "ref_b_mm", "temperature", "pos_a_mm", "pos_b_mm", "out_a_pct", "out_b_pct"};
  });
  add("units in brackets", [](Form& f) {
    f.names = {"Time [s]", "Ref A [mm]", "Ref B [mm]", "Pos A [mm]", "Pos B [mm]", "Output A [%]", "Output B [%]"};
  });
  add("units in parentheses, micrometres with the micro sign", [](Form& f) {
    f.position = {1e6, 2};
    f.names = {"time (s)",
               "A command (\xC2\xB5m)",
               "B command (\xC2\xB5m)",
               "A actual (\xC2\xB5m)",
               "B actual (\xC2\xB5m)",
               "A output (%)",
               "B output (%)"};
  });
  add("micro sign in Latin-1", [](Form& f) {
    f.position = {1e6, 2};
    f.names = {"t_s", "ref a [\xB5m]", "ref b [\xB5m]", "pos a [\xB5m]", "pos b [\xB5m]", "out_a_pct", "out_b_pct"};
  });
  add("metres", [](Form& f) {
    f.position = {1, 8};
    f.names = {"t_s", "ref_a_m", "ref_b_m", "pos_a_m", "pos_b_m", "out_a_pct", "out_b_pct"};
  });
  add("inches", [](Form& f) {
    f.position = {1 / 0.0254, 9};
    f.names = {"t_s", "ref_a_in", "ref_b_in", "pos_a_in", "pos_b_in", "out_a_pct", "out_b_pct"};
  });
  add("counts", [](Form& f) {
    f.position = {2e6, 0};
    f.names = {"t_s", "ref_a_counts", "ref_b_counts", "pos_a_cnt", "pos_b_cnt", "out_a_pct", "out_b_pct"};
  });
  add("newtons", [](Form& f) {
    f.output_a = f.output_b = {1, 3};
    f.names = {"t_s", "ref_a_mm", "ref_b_mm", "pos_a_mm", "pos_b_mm", "force_a_N", "force_b_N"};
  });
  add("amperes", [](Form& f) {
    f.output_a = {8.0 / 2000, 9}, f.output_b = {10.0 / 1500, 9};
    f.names = {"t_s", "ref_a_mm", "ref_b_mm", "pos_a_mm", "pos_b_mm", "Cur A [A]", "Cur B [A]"};
  });
  add("milliseconds", [](Form& f) { f.time = {1e3, 3}, f.names[0] = "Time (ms)"; });
  add("microseconds", [](Form& f) { f.time = {1e6, 0}, f.names[0] = "t_us"; });
  add("samples with a rate in the preamble",
      [](Form& f) { f.time.factor = 0, f.names[0] = "Sample", f.before = "Recorder rate: 2000 Hz\n"; });
  add("samples that start elsewhere, period in the preamble", [](Form& f) {
    f.time.factor = 0, f.first_sample = 70000, f.names[0] = "Sample",
    f.before = "Capture 3\nSampling period = 0,5 ms\n\n";
  });
  add("no time column, rate in the preamble", [](Form& f) {
    f.order = {1, 2, 3, 4, 5, 6}, f.names.erase(f.names.begin()), f.before = "Sample rate [kHz]: 2\n";
  });
  add("time without unit, proven by the rate", [](Form& f) {
    f.time = {1e3, 3}, f.names[0] = "time", f.before = "Recorder rate: 2 kHz\n";
  });
  add("units in the preamble", [](Form& f) { f.names = bare_names, f.before = "Units: s, mm, %\n"; });
  add("a units row", [](Form& f) { f.names = bare_names, f.unit_row = "s,mm,mm,mm,mm,%,%"; });
  add("humps", [](Form& f) {
    f.names = {"TimeStamp_s", "CmdPosA_mm", "CmdPosB_mm", "ActPosA_mm", "ActPosB_mm", "OutA_pct", "OutB_pct"};
  });
  add("sides first and run together", [](Form& f) {
    f.names = {"t (s)", "refa [mm]", "refb [mm]", "posa [mm]", "posb [mm]", "outa [%]", "outb [%]"};
  });
  add("header behind a hash", [](Form& f) { f.names[0] = "# t_s", f.before = "# gantry 7\n# operator away\n"; });
  add("coarse stamps", [](Form& f) { f.time = {1, 3}; });
  return copies;
}

std::vector<Copy> doubtful_copies() {
  std::vector<Copy> copies;
  const auto add = [&](std::string what, std::string question, void (*change)(Form&)) {
    copies.push_back({std::move(what), with(change), std::move(question)});
  };
  add("no units anywhere", "position_unit = \"mm\"", [](Form& f) { f.names = bare_names; });
  add("no units anywhere: time", "time_unit = \"s\"", [](Form& f) { f.names = bare_names; });
  add("no units anywhere: outputs", "output_unit = \"%\"", [](Form& f) { f.names = bare_names; });
  add("unit of the positions missing", "position_unit", [](Form& f) { f.names[3] = "pos_a", f.names[4] = "pos_b"; });
  add("left and right", "columns = [\"time s\", \"? mm\"", [](Form& f) {
    f.names = {"t_s", "ref_left_mm", "ref_right_mm", "pos_left_mm", "pos_right_mm", "out_left_pct", "out_right_pct"};
  });
  add("one and two", "columns = [",
      [](Form& f) { f.names = {"t_s", "ref1_mm", "ref2_mm", "pos1_mm", "pos2_mm", "out1_pct", "out2_pct"}; });
  add("words of rank", "columns = [", [](Form& f) {
    f.names = {"t_s",          "leader ref mm", "follower ref mm", "leader pos mm", "follower pos mm",
               "leader out %", "follower out %"};
  });
  add("no header", "columns = [", [](Form& f) { f.names = {}; });
  add("two positions of A", "columns = [", [](Form& f) { f.names[4] = "pos_a_motor_mm"; });
  add("bare letters", "columns = [", [](Form& f) { f.names[3] = "A [mm]", f.names[4] = "B [mm]"; });
  add("current as in now or as in ampere", "columns = [",
      [](Form& f) { f.names[3] = "current pos a", f.names[4] = "current pos b"; });
  add("samples without a rate", "rate = \"1000 Hz\"", [](Form& f) { f.time.factor = 0, f.names[0] = "Sample"; });
  add("no time and no rate", "rate = \"1000 Hz\"",
      [](Form& f) { f.order = {1, 2, 3, 4, 5, 6}, f.names.erase(f.names.begin()); });
  add("rate of a loop, not of the recorder", "rate = \"1000 Hz\"",
      [](Form& f) { f.time.factor = 0, f.names[0] = "Sample", f.before = "Servo rate: 4000 Hz\n"; });
  add("rate with a decimation", "rate = \"1000 Hz\"", [](Form& f) {
    f.time.factor = 0, f.names[0] = "Sample", f.before = "Recorder rate: 4000 Hz\nDecimation: 2\n";
  });
  add("rate that contradicts the stamps", "Correct `rate`", [](Form& f) { f.before = "Recorder rate: 1000 Hz\n"; });
  add("two units for one column", "columns = [", [](Form& f) { f.unit_row = "s,mm,mm,um,um,%,%"; });
  add("two units for one kind", "position_unit",
      [](Form& f) { f.names = bare_names, f.before = "Units: s, mm, um, %\n"; });
  add("positions in per cent", "columns = [", [](Form& f) { f.names[3] = "pos_a [%]"; });
  return copies;
}

}  // namespace

TEST_CASE("copies of one capture in every form give the same columns") {
  const test::Capture truth = test::capture();
  for (const Copy& copy : readable_copies()) {
    INFO(copy.what);
    try {
      check_columns(import_recording("x.csv", test::text_of(truth, copy.form), nullptr, test::machine()), truth,
                    copy.what);
    } catch (const base::InputError& error) {
      FAIL_CHECK(error.what());
    }
  }
}

TEST_CASE("copies that leave something open are refused with the right question") {
  const test::Capture truth = test::capture();
  for (const Copy& copy : doubtful_copies()) {
    INFO(copy.what);
    std::string answer = "read without a question";
    try {
      import_recording("x.csv", test::text_of(truth, copy.form), nullptr, test::machine());
    } catch (const base::InputError& error) {
      answer = error.what();
    }
    INFO(answer);
    CHECK(answer.find(copy.question) != std::string::npos);
  }
}

}  // namespace evenbeam::recording
