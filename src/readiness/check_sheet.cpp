#include <fmt/format.h>

#include <utility>

#include "readiness/check_line.h"
#include "units/unit.h"

namespace evenbeam::readiness {

std::string to_text(Part part) {
  switch (part) {
    case Part::access:
      return "access";
    case Part::mechanics:
      return "mechanics";
    case Part::wiring:
      return "wiring";
    case Part::brakes:
      return "brakes";
    case Part::sides_alone:
      return "sides alone";
    case Part::enabling:
      break;
  }
  return "enabling";
}

std::string to_text(Gate gate) {
  if (gate == Gate::first_power) return "first power";
  return gate == Gate::first_push ? "first push" : "first move";
}

std::string good_words(const CheckLine& line, const std::optional<double>& low, const std::optional<double>& high,
                       const machine::Machine& machine) {
  if (line.unit.empty()) return "yes";
  const std::string shown = line.unit == "rad" ? "deg"
                            : line.unit == "s"
                                ? "ms"
                                : units::shown_unit(line.unit, machine.length_unit, machine.force_unit);
  const auto number = [&](double value) { return units::print_quantity(value, line.unit, shown, 4); };
  if (low && high) return fmt::format("{} to {}", number(*low), number(*high));
  if (high) return number(*high) + " at most";
  if (low) return number(*low) + " at least";
  return "by your statement: limit and limit_source";
}

CheckLine seen_line(Part part, Gate gate, std::string id, std::string what, std::string how, std::string why) {
  return {.id = std::move(id),
          .part = part,
          .gate = gate,
          .what = std::move(what),
          .how = std::move(how),
          .why = std::move(why),
          .source = no_source};
}

CheckLine measured_line(Part part, std::string id, std::string what, std::string how, std::string unit,
                        std::string example) {
  return {.id = std::move(id),
          .part = part,
          .what = std::move(what),
          .how = std::move(how),
          .unit = std::move(unit),
          .example = std::move(example),
          .source = no_source};
}

std::vector<CheckLine> check_sheet(const machine::Machine& machine) {
  std::vector<CheckLine> sheet;
  for (const auto part : {access_lines, mechanics_lines, wiring_lines, brake_lines, side_lines, enabling_lines})
    for (CheckLine& line : part(machine)) sheet.push_back(std::move(line));
  return sheet;
}

std::vector<CheckLine> access_lines(const machine::Machine&) {
  const auto line = [](const char* id, const char* what, const char* how, const char* why) {
    return seen_line(Part::access, Gate::first_power, id, what, how, why);
  };
  return {
      line("lock_out", "Lock-out works",
           "Drives off and locked out by each person's own lock; then try to start: nothing answers. Wait until the "
           "drives' link is discharged, by their manual.",
           "hands are in the machine for the lines below"),
      line("way_clear", "Whole way clear and guarded",
           "Walk the travel of bridge and carriage: no tool, tape, cable or transport lock left; guards shut or the "
           "area barred, so that nobody reaches what moves.",
           "a moving bridge crushes; it can run away when a sign is wrong"),
      line("stop_in_reach", "Emergency stop in reach of who watches",
           "One person at the controls, one who watches the bridge, each with a stop within reach, and a word agreed "
           "on.",
           "who sees it first must be able to stop it"),
      line("risk_assessment", "Risk assessment read, permission given",
           "The machine's own risk assessment, local codes and the makers' manuals are read by both persons; who may "
           "switch on is named.",
           "they go before every line of this sheet")};
}

}  // namespace evenbeam::readiness
