#include <string>

#include "acceptance/position_table.h"
#include "acceptance/positioning_file.h"
#include "exporting/redo.h"
#include "machine/machine_file.h"
#include "readers.h"
#include "readiness/check_line.h"
#include "readiness/parameter_text.h"
#include "readiness/ready_file.h"
#include "rehearsal/defects.h"
#include "rehearsal/session.h"
#include "squareness/points_file.h"
#include "squareness/squareness_file.h"

namespace evenbeam::fuzz {
namespace {

template <class Read>
void refusing(std::string_view bytes, Read read) {
  fuzz::refusing([&] { read(std::string(bytes)); });
}

void take_parameters(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { readiness::read_parameter_text(text, "drive-a.txt"); });
}

void take_ready(std::string_view bytes) {
  static const machine::Machine sample = machine::read_machine(R"(format = "evenbeam.machine/1"
name = "sample"
span = "1.6 m"
[side]
drive = "screw"
lead = "20 mm"
peak_force = "1800 N"
brake_hold_force = "800 N"
)",
                                                               "machine.toml");
  static const auto lines = readiness::check_sheet(sample);
  refusing(bytes, [](const std::string& text) {
    readiness::read_sheet(text, "ready.toml", lines, [](const std::string&) { return std::string("gain = 2\n"); });
  });
}

void take_squareness(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) {
    squareness::read_sheet(text, "squareness.toml", 1.6,
                           [](const std::string&) { return std::string("x;y\nmm;mm\n1;0\n0;1\n-1;0\n0;-1\n"); });
  });
}

void take_circle(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { squareness::read_circle(text, "circle.csv", 0.1); });
}

void take_positions(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { acceptance::read_position_table(text, "positions.csv"); });
}

void take_positioning(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { acceptance::read_positioning_file(text, "positioning.toml"); });
}

void take_defects(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { rehearsal::read_defects(text, "defects.toml"); });
}

void take_session(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { rehearsal::read_script(text, "session.toml"); });
}

void take_redo(std::string_view bytes) {
  refusing(bytes, [](const std::string& text) { exporting::read_redo_table(text, "redo.toml"); });
}

}  // namespace

std::vector<Reader> station_readers() {
  return {{"parameters", take_parameters}, {"ready", take_ready},         {"squareness", take_squareness},
          {"circle", take_circle},         {"positions", take_positions}, {"positioning", take_positioning},
          {"defects", take_defects},       {"session", take_session},     {"redo", take_redo}};
}

}  // namespace evenbeam::fuzz
