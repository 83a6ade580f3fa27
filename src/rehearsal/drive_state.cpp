#include "rehearsal/drive_state.h"

#include "base/check.h"

namespace evenbeam::rehearsal {

std::string to_text(DriveState state) {
  switch (state) {
    case DriveState::not_ready:
      return "not ready";
    case DriveState::switch_on_disabled:
      return "switch-on disabled";
    case DriveState::ready:
      return "ready";
    case DriveState::switched_on:
      return "switched on";
    case DriveState::operation_enabled:
      return "operation enabled";
    case DriveState::quick_stop:
      return "quick stop";
    case DriveState::fault_reaction:
      return "fault reaction";
    case DriveState::fault:
      return "fault";
  }
  base::check(false, "a state of the standard");
  return {};
}

std::optional<DriveState> drive_state_of(std::uint16_t word) {
  switch (word & 0x4F) {
    case 0x00:
      return DriveState::not_ready;
    case 0x40:
      return DriveState::switch_on_disabled;
    case 0x0F:
      return DriveState::fault_reaction;
    case 0x08:
      return DriveState::fault;
    default:
      break;
  }
  switch (word & 0x6F) {
    case 0x21:
      return DriveState::ready;
    case 0x23:
      return DriveState::switched_on;
    case 0x27:
      return DriveState::operation_enabled;
    case 0x07:
      return DriveState::quick_stop;
    default:
      return std::nullopt;
  }
}

DriveCommand drive_command_of(std::uint16_t word, std::uint16_t before) {
  if ((word & 0x80) != 0 && (before & 0x80) == 0) return DriveCommand::fault_reset;
  if ((word & 0x02) == 0) return DriveCommand::disable_voltage;  // xx0x
  if ((word & 0x04) == 0) return DriveCommand::quick_stop;       // x01x
  switch (word & 0x0F) {
    case 0x06:
      return DriveCommand::shutdown;
    case 0x07:
      return DriveCommand::switch_on;
    case 0x0F:
      return DriveCommand::enable_operation;
    default:
      return DriveCommand::none;
  }
}

namespace {

struct Transition {
  int number;
  DriveState from;
  DriveCommand by;
  DriveState to;
};

constexpr Transition transitions[] = {
    {2, DriveState::switch_on_disabled, DriveCommand::shutdown, DriveState::ready},
    {3, DriveState::ready, DriveCommand::switch_on, DriveState::switched_on},
    {3, DriveState::ready, DriveCommand::enable_operation, DriveState::switched_on},  // 4 follows by itself
    {4, DriveState::switched_on, DriveCommand::enable_operation, DriveState::operation_enabled},
    {5, DriveState::operation_enabled, DriveCommand::switch_on, DriveState::switched_on},
    {6, DriveState::switched_on, DriveCommand::shutdown, DriveState::ready},
    {7, DriveState::ready, DriveCommand::disable_voltage, DriveState::switch_on_disabled},
    {7, DriveState::ready, DriveCommand::quick_stop, DriveState::switch_on_disabled},
    {8, DriveState::operation_enabled, DriveCommand::shutdown, DriveState::ready},
    {9, DriveState::operation_enabled, DriveCommand::disable_voltage, DriveState::switch_on_disabled},
    {10, DriveState::switched_on, DriveCommand::disable_voltage, DriveState::switch_on_disabled},
    {10, DriveState::switched_on, DriveCommand::quick_stop, DriveState::switch_on_disabled},
    {11, DriveState::operation_enabled, DriveCommand::quick_stop, DriveState::quick_stop},
    {12, DriveState::quick_stop, DriveCommand::disable_voltage, DriveState::switch_on_disabled},
    {15, DriveState::fault, DriveCommand::fault_reset, DriveState::switch_on_disabled},
    {16, DriveState::quick_stop, DriveCommand::enable_operation, DriveState::operation_enabled},
};

}  // namespace

DriveStep command(DriveState state, DriveCommand command) {
  DriveStep step{state, {}};
  for (const Transition& t : transitions) {
    if (t.from != step.state || t.by != command) continue;
    step.state = t.to;
    step.transitions.push_back(t.number);
    if (t.number != 3) break;
  }
  return step;
}

DriveStep settle(DriveState state) {
  if (state == DriveState::not_ready) return {DriveState::switch_on_disabled, {0, 1}};
  if (state == DriveState::fault_reaction) return {DriveState::fault, {14}};
  return {state, {}};
}

DriveStep fail(DriveState state) {
  if (state == DriveState::fault || state == DriveState::fault_reaction) return {state, {}};
  return {DriveState::fault_reaction, {13}};
}

}  // namespace evenbeam::rehearsal
