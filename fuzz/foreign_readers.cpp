#include <string>

#include "base/json.h"
#include "journal/result_file.h"
#include "machine/describe.h"
#include "machine/machine_file.h"
#include "machine/settings_file.h"
#include "readers.h"
#include "recording/import.h"
#include "recording/plan_file.h"

namespace evenbeam::fuzz {
namespace {

// Between the entry of recordings.toml and the capture, where an input holds both.
constexpr std::string_view kThenTheCapture = "\n=====\n";

const machine::Machine& sample_machine() {
  static const machine::Machine sample = machine::read_machine(R"(format = "evenbeam.machine/1"
name = "sample"
span = "1.6 m"
[side]
drive = "screw"
lead = "20 mm"
peak_force = "1800 N"
force_constant = "90 N/A"
count = "0.5 um"
[controller]
servo_period = "500 us"
)",
                                                               "machine.toml");
  return sample;
}

void take_capture(std::string_view bytes) {
  refusing([&] {
    const std::size_t border = bytes.find(kThenTheCapture);
    if (border == std::string_view::npos) {
      recording::import_recording("capture.csv", bytes, nullptr, sample_machine());
      return;
    }
    const auto plans = recording::read_plan_file(std::string(bytes.substr(0, border)), "recordings.toml");
    const auto plan = recording::plan_for(plans, "capture.csv");
    recording::import_recording("capture.csv", bytes.substr(border + kThenTheCapture.size()), &plan,
                                sample_machine());
  });
}

void take_machine(std::string_view bytes) {
  refusing([&] { machine::read_machine(std::string(bytes), "machine.toml"); });
}

void take_recordings(std::string_view bytes) {
  refusing([&] {
    const std::string text(bytes);
    const recording::PlanFile plans = recording::read_plan_file(text, "recordings.toml");
    // What is read can be added to, and what comes out can be read again.
    recording::RecordingPlan more = plans.all;
    more.file = "another.csv", more.guessed = true;
    recording::read_plan_file(recording::with_guesses(text, {more}, "recordings.toml"), "recordings.toml");
  });
}

void take_settings(std::string_view bytes) {
  refusing([&] { machine::read_settings(std::string(bytes), "settings.toml"); });
}

void take_result(std::string_view bytes) {
  refusing([&] { journal::to_text(journal::read_result(bytes, "result.json")); });
}

}  // namespace

std::vector<Reader> foreign_readers() {
  return {{"capture", take_capture},
          {"machine", take_machine},
          {"recordings", take_recordings},
          {"settings", take_settings},
          {"result", take_result}};
}

}  // namespace evenbeam::fuzz
