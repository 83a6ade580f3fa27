// Wiring and switches: which answers which side, what the emergency stop reaches, how fast one fault stops the other.
#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "readiness/check_line.h"
#include "readiness/racking.h"

namespace evenbeam::readiness {
namespace {

using machine::Machine;
using machine::ReferenceKind;

// Where the papers do not tell how fast the bridge racks: 10 ms (common practice, no source).
constexpr double cross_trip_else_s = 10e-3;

CheckLine yes_line(const std::string& id, Gate gate, const std::string& what, const std::string& how,
                   const char* why) {
  return seen_line(Part::wiring, gate, id, what, how, why);
}

CheckLine cross_trip(const Machine& m) {
  CheckLine line = measured_line(
      Part::wiring, "cross_trip", "Cross-trip: one drive's fault stops the other",
      "At standstill, loops open and outputs zero: make one drive fault (its enable pulled by hand), record both "
      "drives' enable outputs or currents; time from the first to the second. Then the other way round; the longer.",
      "s", "4 ms");
  line.gate = Gate::first_move;
  line.plausible_high = 10;
  const auto inertia = smallest_racking_inertia_kg_m2(m);
  const auto peak = m.a.peak_force_n && m.b.peak_force_n
                        ? std::optional(std::max(*m.a.peak_force_n, *m.b.peak_force_n))
                        : std::nullopt;
  if (inertia && peak && m.guides.stated_skew_limit_m) {
    line.high = time_to_skew_s(*peak, m.span_m, *inertia, *m.guides.stated_skew_limit_m);
    line.why = fmt::format(
        "sqrt(2 s/s''), s'' = L^2 F/(2 J): peak force on one side alone, J {:.3g} kg*m^2, until the "
        "builder's skew limit; guides not counted; station trips judges it with the fit",
        *inertia);
    line.source = "rigid body, docs/equations.md";
  } else {
    line.high = cross_trip_else_s;
    line.why = "10 ms until masses, peak forces and stated_skew_limit are in machine.toml; station trips judges it";
  }
  return line;
}

}  // namespace

std::vector<CheckLine> wiring_lines(const Machine& m) {
  std::vector<CheckLine> lines;
  for (const auto& [name, id] : {std::pair{"A", "a"}, std::pair{"B", "b"}}) {
    if (id[0] == 'b' && !m.feedback_on_both_sides) continue;
    lines.push_back(yes_line(fmt::format("count_{}", id), Gate::first_push,
                             fmt::format("Side {}: own count, upwards along +x", name),
                             fmt::format("Drives off: push side {} by hand along +x. Its own position counts up, the "
                                         "other side's stands still.",
                                         name),
                             "a count that falls turns the loop into a runaway; crossed feedback racks the bridge"));
  }
  if (!m.feedback_on_both_sides)
    lines.push_back(yes_line("blind_side", Gate::first_push,
                             "The side without a scale limits its own speed and force",
                             "Read the speed and force limits of side B's drive back from it, and try them with the "
                             "motor uncoupled.",
                             "nobody sees a coupling of that side let go"));
  for (const auto& [name, id] : {std::pair{"A", "a"}, std::pair{"B", "b"}})
    lines.push_back(
        yes_line(fmt::format("end_switches_{}", id), Gate::first_push,
                 fmt::format("Side {}: end switches answer their own side and end", name),
                 "Trip each by hand, one after the other: the right input changes, at the right end, and no "
                 "other; unplugged it reads as tripped.",
                 "a switch that answers for the other side stops the wrong drive"));
  const auto reference = m.homing.reference;
  if (reference == ReferenceKind::switch_only || reference == ReferenceKind::switch_and_mark)
    lines.push_back(yes_line("home_switches", Gate::first_move, "Home switches answer their own side",
                             m.homing.edge_shared ? "Trip the leading side's switch by hand: it arms both sides."
                                                  : "Trip each by hand: only its own side's input changes.",
                             "a search that waits for the other side's switch passes its mark"));
  lines.push_back(
      yes_line("soft_limits", Gate::first_move, "Soft limits set, inside the end switches",
               "Read them back from the controller for both sides after homing: equal on both, inside the "
               "end switches by the stopping way.",
               "the last thing before the switches; unequal ones stop one side first"));
  lines.push_back(yes_line("emergency_stop", Gate::first_push, "Emergency stop reaches both drives",
                           "Press each button in turn, drives enabled and at rest with zero output: both drives lose "
                           "torque, both brakes close, neither comes back when it is let go.",
                           "a stop that reaches one side racks the bridge"));
  lines.push_back(cross_trip(m));
  return lines;
}

}  // namespace evenbeam::readiness
