#pragma once
// What the controller does at enable and disable, as set. Times in s, >= 0; nullopt is unknown.
#include <optional>

namespace evenbeam::machine {

struct EnableTiming {                        // one side; [side], [side_a], [side_b] of machine.toml
  std::optional<double> force_ready_s;       // from enable until the drive holds
  std::optional<double> brake_open_delay_s;  // from enable until the brake is commanded open
  std::optional<double> force_off_delay_s;   // from disable, when the brake is commanded shut, until the force goes
};

}  // namespace evenbeam::machine
