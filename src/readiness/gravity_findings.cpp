#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "readiness/gravity.h"
#include "readiness/ready_station.h"

namespace evenbeam::readiness {
namespace {

using base::Finding;
using base::Verdict;

std::optional<double> measured(const Sheet& sheet, const std::string& line) {
  const Measured* m = find_measured(sheet, line);
  return m ? m->value : std::nullopt;
}

std::string missing_words(const GravityLoad& load) {
  if (load.missing.empty()) return "";
  return fmt::format(" Not counted, since machine.toml lacks it: {}.", fmt::join(load.missing, ", "));
}

// Hold of one side: measured, else by the papers. A mass that is not known makes a margin a mere upper bound.
void add_margin(const char* side, std::optional<double> hold, double load_n, const GravityLoad& load,
                base::StationResult& result) {
  const std::string key = fmt::format("brake_margin_{}", side[0] == 'A' ? "a" : "b");
  if (!hold || !(load_n > 0)) return;
  const double margin = hold_margin(*hold, load_n);
  add_number(result, key, margin, "1");
  const bool good = margin >= brake_margin_wanted;
  result.findings.push_back(
      {.id = key,
       .verdict = !good                  ? Verdict::stop
                  : load.missing.empty() ? Verdict::pass
                                         : Verdict::attention,
       .text = fmt::format("Brake {} holds {:.4g} N against {:.4g} N of gravity on its side at the carriage's worst "
                           "place: {:.3g} times.{}",
                           side, *hold, load_n, margin, missing_words(load)),
       .value = margin,
       .unit = "1",
       .limit = brake_margin_wanted,
       .source = fmt::format("M g sin(tilt) (1/2 -+ S/(M L)), statics; 1.5: {}", no_source),
       .next =
           good ? "" : "Prop the axis. A stronger brake, a counterweight, or less payload, before power is given."});
}

Finding one_alone(double hold_n, const GravityLoad& load) {
  const bool good = hold_n >= load.both_n;
  return {
      .id = "one_brake_alone",
      .verdict = good ? Verdict::pass : Verdict::attention,
      .text = fmt::format("With one brake failed the other has {:.4g} N against {:.4g} N: it {}.", hold_n,
                          load.both_n, good ? "still holds, racked" : "slips, and the axis comes down on one side"),
      .value = hold_n / load.both_n,
      .unit = "1",
      .limit = 1,
      .source = "statics",
      .next = good ? "" : "Prop or pin the axis whenever somebody is below or beside it."};
}

Finding no_brake(const Sheet& sheet, const GravityLoad& load) {
  const auto a = measured(sheet, "free_push_a"), b = measured(sheet, "free_push_b");
  const bool friction_known = a && b;
  const double friction_n = friction_known ? *a + *b : 0;
  // Friction that holds today is not friction that holds: half of it counts (common practice, no source).
  const bool rests = load.both_n <= friction_n / 2;
  return {.id = "no_brake",
          .verdict = rests ? Verdict::pass : Verdict::stop,
          .text = fmt::format("No brake is stated and gravity pulls with {:.4g} N along the rails; friction of both "
                              "sides by hand: {}. {}{}",
                              load.both_n, friction_known ? fmt::format("{:.4g} N", friction_n) : "not measured",
                              rests ? "It stays where it is." : "Switched off, it runs away.", missing_words(load)),
          .value = load.both_n,
          .unit = "N",
          .limit = friction_n / 2,
          .source = fmt::format("M g sin(tilt); half of the friction: {}", no_source),
          .next = rests ? "" : "State the brakes in machine.toml and check them, or level the axis."};
}

}  // namespace

void add_gravity(const Sheet& sheet, const machine::Machine& m, base::StationResult& result) {
  const auto tilt = measured(sheet, "axis_tilt");
  if (!tilt) return;
  // The inclinometer's doubt counts to the worse side.
  const double error = find_measured(sheet, "axis_tilt")->error;
  const double worst = std::copysign(std::min(std::abs(*tilt) + error, 1.5707963267948966), *tilt);
  const GravityLoad load = gravity_load(m, worst);
  add_number(result, "gravity_a_n", load.a_n, "N");
  add_number(result, "gravity_b_n", load.b_n, "N");
  const auto hold_of = [&](const char* line, const machine::Brake& brake) {
    const auto by_hand = measured(sheet, line);
    return by_hand ? by_hand : brake.hold_force_n;
  };
  const auto hold_a = hold_of("brake_hold_a", m.brake_a), hold_b = hold_of("brake_hold_b", m.brake_b);
  if (!(load.both_n > 0)) return;
  if (!hold_a && !hold_b) {
    result.findings.push_back(no_brake(sheet, load));
    return;
  }
  // With a brake on one side only, that one carries everything.
  add_margin("A", hold_a, hold_b ? load.a_n : load.both_n, load, result);
  add_margin("B", hold_b, hold_a ? load.b_n : load.both_n, load, result);
  if (hold_a && hold_b) result.findings.push_back(one_alone(std::min(*hold_a, *hold_b), load));
}

}  // namespace evenbeam::readiness
