#pragma once
// After the marks: taking out the skew, free or square with the offsets that follow, and the electrical angle.
#include "base/figure.h"
#include "homing/attitude.h"
#include "homing/electrical_angle.h"
#include "homing/take_out.h"

namespace evenbeam::homing {

// What the offsets are and which zero they move. position = raw - latch + offset; offset A - offset B = b - a.
struct HomeOffsets {
  bool known = false;
  std::string attitude;   // "free" or "square"
  bool recorded = false;  // in machine.toml
  double b_minus_a_m = 0, lower_m = 0, upper_m = 0;
};

base::Finding take_out_finding(const TakeOut& take_out, const TakeOutInput& input);
base::Finding offsets_finding(const HomeOffsets& offsets);
base::Finding trade_finding(const AttitudeTrade& trade, const HomeOffsets& offsets);
base::Finding angle_finding(const AngleAtMark& angle, const std::string& side, std::optional<double> loss_limit);

base::Figure take_out_figure(const TakeOut& take_out, const TakeOutInput& input);
base::Figure trade_figure(const AttitudeTrade& trade, const AttitudeInput& input);

}  // namespace evenbeam::homing
