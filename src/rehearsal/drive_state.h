#pragma once
// One drive's state after the open drive standard (CiA 402, IEC 61800-7-201; from memory, rows in
// checks/rehearsal/drive_state_check.cpp): decoded from its status word, moved by its control word.
//   (sw & 0x4F): 0x00 not ready, 0x40 switch-on disabled, 0x0F fault reaction, 0x08 fault
//   (sw & 0x6F): 0x21 ready, 0x23 switched on, 0x27 operation enabled, 0x07 quick stop
// Assumes a drive that keeps the standard; makers add bits and skip optional transitions (16 here).
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace evenbeam::rehearsal {

enum class DriveState {
  not_ready,
  switch_on_disabled,
  ready,
  switched_on,
  operation_enabled,
  quick_stop,
  fault_reaction,
  fault,
};
std::string to_text(DriveState state);  // "switch-on disabled", ...

// nullopt where the bits are those of no state.
std::optional<DriveState> drive_state_of(std::uint16_t status_word);

enum class DriveCommand { none, shutdown, switch_on, enable_operation, disable_voltage, quick_stop, fault_reset };
// What a control word asks; a fault reset is the rising edge of bit 7. `switch_on` (0111) given to an enabled drive
// disables its operation.
DriveCommand drive_command_of(std::uint16_t control_word, std::uint16_t control_word_before);

struct DriveStep {
  DriveState state = DriveState::not_ready;
  std::vector<int> transitions;  // numbers of the standard, in the order taken; empty = the state stays
};
DriveStep command(DriveState state, DriveCommand command);
DriveStep settle(DriveState state);  // what a drive does by itself: 0 and 1 at power-up, 14 after a fault reaction
DriveStep fail(DriveState state);    // 13: from everywhere into the fault reaction

}  // namespace evenbeam::rehearsal
