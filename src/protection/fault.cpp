#include "protection/fault.h"

#include <fmt/format.h>

#include <algorithm>

namespace evenbeam::protection {

std::string to_text(FaultKind kind) {
  switch (kind) {
    case FaultKind::side_off:
      return "one side off";
    case FaultKind::side_off_unseen:
      return "one side off, unreported and sensed late";
    case FaultKind::output_held:
      return "output stuck";
    case FaultKind::output_full_with:
      return "output to full, with the motion";
    case FaultKind::output_full_against:
      return "output to full, against the motion";
    case FaultKind::feedback_frozen:
      return "feedback frozen";
    case FaultKind::feedback_reversed:
      return "feedback reversed";
    case FaultKind::feedback_slip:
      return "feedback slips unseen";
    case FaultKind::brake_drags:
      return "one brake closes in motion";
    case FaultKind::jam:
      return "jam on one side";
    case FaultKind::carriage_thrown:
      return "carriage thrown to one end";
    case FaultKind::command_step:
      return "command step";
    case FaultKind::power_loss:
      return "power loss";
    case FaultKind::brake_late:
      return "power loss, one brake late";
    case FaultKind::brake_fails:
      return "power loss, one brake fails";
  }
  return "";
}

std::string to_text(Reaction reaction) {
  switch (reaction) {
    case Reaction::off:
      return "both sides off at once, coasting (stop category 0)";
    case Reaction::off_brakes:
      return "both sides off at once, brakes close (stop category 0)";
    case Reaction::controlled_stop:
      return "controlled stop of what still obeys, then off (stop category 1)";
    case Reaction::follow:
      return "healthy side follows the failed one, then off (stop category 1)";
    case Reaction::dynamic_braking:
      return "both sides off, healthy windings shorted (stop category 0)";
    case Reaction::hold:
      return "controlled stop of what still obeys, power kept (stop category 2)";
  }
  return "";
}

std::string to_text(SeenBy by) {
  switch (by) {
    case SeenBy::nothing:
      return "nothing";
    case SeenBy::drive:
      return "its drive";
    case SeenBy::skew_trip:
      return "skew trip";
    case SeenBy::following_trip:
      return "following-error trip";
  }
  return "";
}

std::string key_of(Reaction reaction) {
  switch (reaction) {
    case Reaction::off:
      return "off";
    case Reaction::off_brakes:
      return "off_brakes";
    case Reaction::controlled_stop:
      return "controlled_stop";
    case Reaction::follow:
      return "follow";
    case Reaction::dynamic_braking:
      return "dynamic_braking";
    case Reaction::hold:
      return "hold";
  }
  return "";
}

int stop_category(Reaction reaction) {
  if (reaction == Reaction::hold) return 2;
  return reaction == Reaction::controlled_stop || reaction == Reaction::follow ? 1 : 0;
}

const std::vector<FaultKind>& all_faults() {
  using enum FaultKind;
  static const std::vector<FaultKind> list{
      side_off,        side_off_unseen,   output_held,   output_full_with, output_full_against,
      feedback_frozen, feedback_reversed, feedback_slip, brake_drags,      jam,
      carriage_thrown, command_step,      power_loss,    brake_late,       brake_fails};
  return list;
}

const std::vector<Reaction>& all_reactions() {
  using enum Reaction;
  static const std::vector<Reaction> list{off, off_brakes, controlled_stop, follow, dynamic_braking, hold};
  return list;
}

bool needs_brakes(FaultKind kind) { return kind == FaultKind::brake_late || kind == FaultKind::brake_fails; }
bool power_is_gone(FaultKind kind) { return kind == FaultKind::power_loss || needs_brakes(kind); }
bool drive_tells(FaultKind kind) { return kind == FaultKind::side_off || power_is_gone(kind); }
bool one_drive_failed(FaultKind kind) {
  return kind != FaultKind::brake_drags && kind != FaultKind::jam && kind != FaultKind::command_step &&
         kind != FaultKind::carriage_thrown;
}

std::vector<FaultKind> possible_faults(const FaultSizes& sizes) {
  std::vector<FaultKind> out;
  for (FaultKind kind : all_faults())
    if (sizes.brakes_known || !needs_brakes(kind)) out.push_back(kind);
  return out;
}

FaultSizes fault_sizes(const machine::Machine& machine, double speed_m_per_s, double acceleration_m_per_s2) {
  FaultSizes out;
  const double peak = std::max(machine.a.peak_force_n.value_or(0), machine.b.peak_force_n.value_or(0));
  out.jam_n = peak;
  out.assumed.push_back(fmt::format("a jam holds one end with up to {:.0f} N, the peak force of a side", peak));
  out.brakes_known = machine.brake_a.hold_force_n && machine.brake_b.hold_force_n;
  out.brake_a_n = machine.brake_a.hold_force_n.value_or(0.3 * peak);
  out.brake_b_n = machine.brake_b.hold_force_n.value_or(0.3 * peak);
  out.brake_close_a_s = machine.brake_a.close_s.value_or(0.03);
  out.brake_close_b_s = machine.brake_b.close_s.value_or(0.03);
  if (!out.brakes_known)
    out.assumed.push_back(fmt::format(
        "no brakes are stated, so none are offered as a reaction and none is late or fails; one that drags takes "
        "{:.0f} N",
        out.brake_a_n));
  else
    out.assumed.push_back(fmt::format("one brake, either, closes {:.0f} ms after the other, {:.0f} ms as a fault",
                                      1e3 * out.brake_late_s, 1e3 * out.brake_fault_s));
  out.assumed.push_back(
      fmt::format("a fault that no drive reports is sensed {:.0f} ms late", 1e3 * out.sensed_late_s));
  out.shorted_n_s_per_m = speed_m_per_s > 0 ? 0.2 * peak / speed_m_per_s : 0;
  out.assumed.push_back(
      fmt::format("a shorted winding brakes with a fifth of the peak force at {:.2f} m/s", speed_m_per_s));
  out.stop_m_per_s2 = acceleration_m_per_s2;
  const machine::CarriageRange range = machine::carriage_range(machine);
  out.carriage_min_y_m = range.min_y_m, out.carriage_max_y_m = range.max_y_m;
  out.carriage_m_per_s2 = acceleration_m_per_s2, out.carriage_m_per_s = speed_m_per_s;
  out.assumed.push_back(fmt::format(
      "a thrown carriage gains {:.1f} m/s2 up to {:.2f} m/s and is stopped over {:.0f} mm at the end of its travel",
      acceleration_m_per_s2, speed_m_per_s, 1e3 * out.carriage_buffer_m));
  out.assumed.push_back(fmt::format("the commanded place may jump by {:.1f} mm", 1e3 * out.step_m));
  return out;
}

}  // namespace evenbeam::protection
