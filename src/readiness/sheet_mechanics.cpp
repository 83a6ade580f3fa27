// Mechanics: rails, bolts, force by hand, stops, cable chain, scale heads.
#include <fmt/format.h>

#include <utility>

#include "readiness/check_line.h"
#include "readiness/guide_tolerance.h"
#include "units/unit.h"

namespace evenbeam::readiness {
namespace {

using machine::DriveKind;
using machine::Machine;

// Force by hand that a healthy side needs, as part of its continuous force (of peak where that is not stated, a third
// of it standing for continuous): common practice, no source. Raised: a tight guide passes.
constexpr double hand_force_part = 0.15;
// Beyond the end switch, way left over after a stop from full speed: 1.2 (common practice, no source).
constexpr double stop_way_margin = 1.2;

std::string shown(double value, const char* unit, const Machine& m) {
  return units::print_quantity(value, unit, units::shown_unit(unit, m.length_unit, m.force_unit), 3);
}

CheckLine parallelism(const Machine& m) {
  CheckLine line = measured_line(Part::mechanics, "rail_parallelism", "Rails parallel",
                                 "Distance of the two rails at every bolt row, by a dial gauge on a bar from rail to "
                                 "rail or by laser; largest less smallest over the whole travel.",
                                 "m", "12 um");
  line.plausible_high = 0.05;
  line.source = "ISO 14728-1 life, from memory; tenth of C and carriage stiffness: common practice, no source";
  if (const auto t = parallel_tolerance(m.guides)) {
    line.high = t->error_m;
    line.why =
        fmt::format("2 (C/10)/k: each carriage gives way by half, k {:.0f} N/um {}, C/10 leaves 100,000 km",
                    t->stiffness_n_per_m * 1e-6, t->from_yaw_stiffness ? "from the yaw stiffness" : "= C0/120 um");
  } else {
    line.why = "2 (C/10)/k needs static_rating and dynamic_rating in [guides]; or state the guide maker's number";
  }
  return line;
}

CheckLine height(const Machine& m) {
  CheckLine line =
      measured_line(Part::mechanics, "rail_height", "Rails level with each other",
                    "Height of one rail over the other at every bolt row, by a level on a bar or by laser; largest "
                    "less smallest over the whole travel, shims counted.",
                    "m", "60 um");
  line.plausible_high = 0.05;
  line.high = height_tolerance_m(m.span_m);
  line.why = fmt::format("2e-4 L, L {}: each carriage follows the tilt in roll", shown(m.span_m, "m", m));
  line.source = "guide makers' sheets 2e-4 to 4e-4 by preload, from memory; the strictest";
  return line;
}

std::string push_how(const machine::Side& side, const char* name) {
  const std::string where = side.drive == DriveKind::screw
                                ? "turn the screw by its coupling with a torque wrench (force = 2 pi T/lead)"
                                : "pull at the side's own carriage with a spring balance";
  return fmt::format(
      "Drives off and locked out, brake of side {} released by hand, bridge not yet bolted: {}, slowly, over the "
      "whole travel, both ways; the largest force once it moves.",
      name, where);
}

CheckLine free_push(const machine::Side& side, const char* name, const char* id) {
  CheckLine line =
      measured_line(Part::mechanics, fmt::format("free_push_{}", id),
                    fmt::format("Side {} moves freely by hand", name), push_how(side, name), "N", "45 N");
  line.plausible_high = 1e5;
  line.why = "15 % of continuous force; more is a tight guide, rack or screw";
  if (side.continuous_force_n) line.high = hand_force_part * *side.continuous_force_n;
  if (!side.continuous_force_n && side.peak_force_n) {
    line.high = hand_force_part * *side.peak_force_n / 3;
    line.why = "15 % of a third of peak force (continuous force is not stated)";
  }
  return line;
}

CheckLine stop_way(const Machine& m, const char* end, const char* id) {
  CheckLine line = measured_line(
      Part::mechanics, fmt::format("stop_way_{}", id), fmt::format("Way from end switch to hard stop, {} end", end),
      "By hand to the point where the end switch answers, then on to the hard stop; the smaller of A and B.", "m",
      "60 mm");
  line.gate = Gate::first_move;
  line.plausible_high = 5;
  line.source = "kinematics; margin 1.2 common practice, no source";
  const auto& v = m.limits.speed_m_per_s;
  const auto& a = m.limits.acceleration_m_per_s2;
  if (v && a) {
    line.low = stop_way_margin * *v * *v / (2 * *a);
    line.why = fmt::format("1.2 v^2/(2 a) with v {:.3g} m/s, a {:.3g} m/s^2", *v, *a);
  } else {
    line.why = "1.2 v^2/(2 a) needs speed and acceleration in [limits]; or state the limit";
  }
  return line;
}

CheckLine stop_even(const Machine& m, const char* end, const char* id) {
  CheckLine line = measured_line(Part::mechanics, fmt::format("stops_even_{}", id),
                                 fmt::format("Both sides meet the {} stop together", end),
                                 "Bridge squared, pushed by hand against the stop that it meets first: the gap left "
                                 "at the other side, by feeler "
                                 "gauge. Plus where A is free.",
                                 "m", "0.3 mm");
  line.plausible_low = -0.1, line.plausible_high = 0.1;
  line.why = "a gap is the skew in which a crash ends; within the builder's skew limit";
  line.source = "machine.toml, stated_skew_limit";
  if (const auto limit = m.guides.stated_skew_limit_m) {
    line.low = -*limit;
    line.high = *limit;
  }
  return line;
}

CheckLine third_rail(const Machine& m) {
  CheckLine line = measured_line(Part::mechanics, "third_rail_height", "Third rail in the plane of the other two",
                                 "Its height over the straight line between the outer rails at every bolt row, by "
                                 "level or laser; largest less smallest over the whole travel.",
                                 "m", "40 um");
  line.plausible_high = 0.05;
  line.high = height_tolerance_m(m.span_m / 2);
  line.why = fmt::format("2e-4 L/2, L/2 {}: as between two rails, over half the way; a rail in the middle",
                         shown(m.span_m / 2, "m", m));
  line.source = "guide makers' sheets 2e-4 to 4e-4 by preload, from memory; the strictest";
  return line;
}

CheckLine yes_line(const std::string& id, const std::string& what, const char* how, const char* why) {
  return seen_line(Part::mechanics, Gate::first_push, id, what, how, why);
}

CheckLine head_gap(const char* name, const char* id) {
  CheckLine line = measured_line(
      Part::mechanics, fmt::format("head_gap_{}", id), fmt::format("Scale head gap, side {}", name),
      "Feeler gauge or the maker's foil between head and scale at both ends and the middle: the worst place; signal "
      "level by the drive's display along the whole scale.",
      "m", "0.8 mm");
  line.plausible_high = 0.02;
  line.why = "the head's maker states its gap; state it here: limit_low, limit, limit_source";
  line.source = "the scale's papers";
  return line;
}

}  // namespace

std::vector<CheckLine> mechanics_lines(const Machine& m) {
  std::vector<CheckLine> lines{parallelism(m), height(m)};
  lines.push_back(yes_line("bolts", "Bolts tight and marked",
                           "Every bolt of rails, guide carriages, bridge ends, motors, racks or screws with a torque "
                           "wrench, paint mark over each head.",
                           "a loose mounting is a soft yaw spring and a lost mark"));
  lines.push_back(free_push(m.a, "A", "a"));
  lines.push_back(free_push(m.b, "B", "b"));
  for (const auto& [end, id] : {std::pair{"+x", "plus"}, std::pair{"-x", "minus"}}) {
    lines.push_back(stop_way(m, end, id));
    lines.push_back(stop_even(m, end, id));
  }
  lines.push_back(
      yes_line("cable_chain", "Cable chain runs free",
               "Bridge by hand over the whole travel: no pull, no cable at its bending limit, nothing that "
               "snags, strain reliefs tight at both ends.",
               "a chain on one side pulls that side back, and a torn feedback cable is a runaway"));
  if (m.a.feedback_place == machine::FeedbackPlace::load) lines.push_back(head_gap("A", "a"));
  if (m.b.feedback_place == machine::FeedbackPlace::load && m.feedback_on_both_sides)
    lines.push_back(head_gap("B", "b"));
  if (m.guides.ends == machine::EndKind::pivoted || m.guides.ends == machine::EndKind::flexure)
    lines.push_back(
        yes_line("end_joints", "End joints move as drawn",
                 "Before the drives are coupled: turn the bridge by hand within the builder's limit; pivots "
                 "turn without play, flexures without touching their stops, back to where they were.",
                 "a jammed pivot is a bolted end that nobody reckoned with"));
  if (m.common_shaft)
    lines.push_back(yes_line("shaft_couplings", "Common shaft and its couplings tight",
                             "Motor end held, the far pinion turned back and forth by hand: no play; couplings "
                             "clamped, their marks in line.",
                             "play in the shaft is skew that nothing else can take out"));
  if (m.third_rail) lines.push_back(third_rail(m));
  if (m.a.motors == 2 || m.b.motors == 2)
    lines.push_back(
        yes_line("pinion_preload", "Pinions preloaded against each other",
                 "Rock the side by hand with one motor held: no play at either pinion over the whole rack; "
                 "preload by the drive maker's sheet, the same on both sides.",
                 "play inside one side looks like skew, and two motors can fight within a side"));
  return lines;
}

}  // namespace evenbeam::readiness
