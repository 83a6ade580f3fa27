// Each side alone, before the bridge is bolted, and what happens at enable and disable.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "readiness/check_line.h"

namespace evenbeam::readiness {
namespace {

using machine::Machine;

constexpr double gauge_way_m = 10e-3;
// Of the way shown: a dial gauge reads 10 mm to 10 um, and 0.2 % of scale is 2 mm of skew a metre of travel.
constexpr double gauge_part = 2e-3;

CheckLine gauge(const char* name, const char* id) {
  CheckLine line = measured_line(
      Part::sides_alone, fmt::format("gauge_way_{}", id),
      fmt::format("Side {}: counts per millimetre against a dial gauge", name),
      fmt::format("Drives off, side {} pushed by hand until the controller shows 10 mm more: what the dial gauge at "
                  "the same side has moved.",
                  name),
      "m", "10.002 mm");
  line.plausible_low = -0.1, line.plausible_high = 0.1;
  line.low = gauge_way_m * (1 - gauge_part);
  line.high = gauge_way_m * (1 + gauge_part);
  line.why = "within 0.2 %, a gauge's own doubt; a scale off by more shows as skew that grows with the way";
  return line;
}

// Loss of force by an angle wrong by p is 1 - cos p.
CheckLine angle(const Machine& m, const char* name, const char* id) {
  const double loss = m.electrical_angle.loss_limit.value_or(0.02);
  CheckLine line = measured_line(
      Part::sides_alone, fmt::format("angle_spread_{}", id),
      fmt::format("Side {}: electrical angle comes out the same", name),
      fmt::format("The drive's own procedure on side {} alone, at low current, free both ways, nobody within reach; "
                  "angle read at one place after five power-ups: largest less smallest.",
                  name),
      "rad", "3 deg");
  line.plausible_high = 3.2;
  line.high = std::acos(1 - loss);
  line.why = fmt::format(
      "acos(1 - {:.3g}): more than {:.3g} % of force lost, and lost on one side only is skew; "
      "beyond 90 deg the loop runs away",
      loss, 100 * loss);
  line.source = "F = F_0 cos(angle error); loss_limit of [electrical_angle], else common practice, no source";
  return line;
}

CheckLine current(const Machine& m, const char* name, const char* id) {
  CheckLine line = measured_line(
      Part::sides_alone, fmt::format("current_rise_{}", id), fmt::format("Side {}: current loop answers fast", name),
      "A small step of current in the drive's own tool, motor held: time to 63 % of the step.", "s", "0.4 ms");
  line.plausible_high = 0.1;
  line.high = std::max(1e-3, 2 * m.servo_period_s.value_or(0));
  line.why = "within the larger of 1 ms and two servo periods; A and B within a fifth of each other is checked below";
  return line;
}

}  // namespace

std::vector<CheckLine> side_lines(const Machine& m) {
  std::vector<CheckLine> lines;
  for (const auto& [name, id] : {std::pair{"A", "a"}, std::pair{"B", "b"}}) {
    const bool b_blind = id[0] == 'b' && !m.feedback_on_both_sides;
    if (id[0] == 'b' && m.common_shaft) continue;  // one motor
    if (!b_blind) lines.push_back(gauge(name, id));
    lines.push_back(angle(m, name, id));
    lines.push_back(current(m, name, id));
  }
  return lines;
}

std::vector<CheckLine> enabling_lines(const Machine& m) {
  const auto line = [](const char* id, const char* what, const char* how, const char* why) {
    return seen_line(Part::enabling, Gate::first_push, id, what, how, why);
  };
  std::vector<CheckLine> lines{
      line("takes_actual_position", "Enable takes over the actual position, both sides",
           "Drives off, bridge moved by hand by a few millimetres, enabled with the lowest force limit: commanded "
           "equals actual position on both sides at once, and nothing jumps.",
           "a position kept from before is jumped to with full force, by each side on its own"),
      line("enable_together", "One enable switches both sides",
           "Enable and disable ten times at rest, low force limit: both drives' ready signals come and go together.",
           "one side that holds alone is racked by whatever moves the other")};
  if (m.brake_a.hold_force_n || m.brake_a.close_s || m.brake_b.hold_force_n || m.brake_b.close_s)
    lines.push_back(line("brake_order", "Brakes open after force is there, and close before it goes",
                         "Read the delays from the drives' settings and write them into `note`.",
                         "else gravity or a released spring moves the bridge while nothing holds it"));
  return lines;
}

}  // namespace evenbeam::readiness
