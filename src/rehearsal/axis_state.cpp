#include "rehearsal/axis_state.h"

#include "base/check.h"

namespace evenbeam::rehearsal {

std::string to_text(AxisState state) {
  constexpr const char* names[] = {"disabled",          "standstill",          "homing",   "discrete motion",
                                   "continuous motion", "synchronized motion", "stopping", "error stop"};
  const auto index = static_cast<unsigned>(state);
  base::check(index < 8, "a state of the standard", {double(index)});
  return names[index];
}

namespace {

bool moves(AxisState s) {
  return s == AxisState::discrete || s == AxisState::continuous || s == AxisState::synchronized;
}
bool may_start(AxisState s) { return s == AxisState::standstill || moves(s); }

}  // namespace

AxisState after(AxisState s, AxisEvent event) {
  using enum AxisEvent;
  if (event == error) return AxisState::error_stop;
  if (s == AxisState::error_stop) {
    if (event == reset_powered) return AxisState::standstill;
    return event == reset_unpowered ? AxisState::disabled : s;
  }
  switch (event) {
    case power_on:
      return s == AxisState::disabled ? AxisState::standstill : s;
    case power_off:
      return AxisState::disabled;
    case home:
      return s == AxisState::standstill ? AxisState::homing : s;
    case move:
      return may_start(s) ? AxisState::discrete : s;
    case move_on:
      return may_start(s) ? AxisState::continuous : s;
    case gear_in:
      return may_start(s) ? AxisState::synchronized : s;
    case stop:
      return s == AxisState::disabled ? s : AxisState::stopping;
    case release_stopped:
      return s == AxisState::stopping ? AxisState::standstill : s;
    case done:
      return s == AxisState::homing || moves(s) ? AxisState::standstill : s;
    default:
      return s;  // a reset without an error
  }
}

}  // namespace evenbeam::rehearsal
