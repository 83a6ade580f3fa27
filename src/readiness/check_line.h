#pragma once
// One line of the check sheet that comes before the first push: what is looked at, how, which value is good and why,
// and which gate it holds shut until it is good. Measured values are kept apart (ready_file.h).
#include <optional>
#include <string>
#include <vector>

#include "machine/machine.h"

namespace evenbeam::readiness {

enum class Part { access, mechanics, wiring, brakes, sides_alone, enabling };
std::string to_text(Part part);

// In the order in which they open. `first_power`: drives get power, nothing moves. `first_push`: the first short
// open-loop force. `first_move`: the first move with closed loops.
enum class Gate { first_power, first_push, first_move };
std::string to_text(Gate gate);

struct CheckLine {
  std::string id;  // stable, snake_case; the heading in ready.toml
  Part part = Part::access;
  Gate gate = Gate::first_push;
  std::string what;  // a few words
  std::string how;   // what to do, a sentence or two
  std::string unit;  // SI symbol; empty: the answer is yes or no
  std::string example;
  double plausible_low = 0, plausible_high = 0;  // SI; outside it a unit or a point is wrong
  std::optional<double> low, high;               // good within; both empty: the person states the limit
  std::string why;                               // with its formula and numbers
  std::string source;                            // "common practice, no source" where there is none
};

// Only lines that this machine has. Order: the order of work. A limit that the papers do not give stays empty.
std::vector<CheckLine> check_sheet(const machine::Machine& machine);

// How every part makes its lines; source is `no_source` until another is set. A measured one wants plausible_high and
// its limits besides.
CheckLine seen_line(Part part, Gate gate, std::string id, std::string what, std::string how, std::string why);
CheckLine measured_line(Part part, std::string id, std::string what, std::string how, std::string unit,
                        std::string example);

// Its parts, for check_sheet.cpp.
std::vector<CheckLine> access_lines(const machine::Machine& machine);
std::vector<CheckLine> mechanics_lines(const machine::Machine& machine);
std::vector<CheckLine> wiring_lines(const machine::Machine& machine);
std::vector<CheckLine> brake_lines(const machine::Machine& machine);
std::vector<CheckLine> side_lines(const machine::Machine& machine);
std::vector<CheckLine> enabling_lines(const machine::Machine& machine);

// "at least 12 N", "18 um at most", "-2 mm to 3 mm", "yes", "by your statement (limit, limit_source)".
std::string good_words(const CheckLine& line, const std::optional<double>& low, const std::optional<double>& high,
                       const machine::Machine& machine);

inline constexpr const char* no_source = "common practice, no source";

}  // namespace evenbeam::readiness
