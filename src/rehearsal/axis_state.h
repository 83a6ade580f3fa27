#pragma once
// State of an axis after the published function-block standard for motion (PLCopen part 1; from memory, rows in
// checks/rehearsal/axis_state_check.cpp). The pair is shown to a sequence program as one such axis.
#include <string>

namespace evenbeam::rehearsal {

enum class AxisState { disabled, standstill, homing, discrete, continuous, synchronized, stopping, error_stop };
std::string to_text(AxisState state);  // "standstill", "error stop", ...

enum class AxisEvent {
  power_on,
  power_off,
  home,
  move,             // to a place: discrete motion
  move_on,          // without end: continuous motion
  gear_in,          // follows another: synchronized motion
  stop,             // request begins
  release_stopped,  // request taken back, axis stands
  done,             // homing or move has ended, or speed has come to zero
  error,
  reset_powered,
  reset_unpowered,
};
// The state after the event; the same state where the standard gives the event no way.
AxisState after(AxisState state, AxisEvent event);

}  // namespace evenbeam::rehearsal
