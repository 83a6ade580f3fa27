#pragma once
// After the marks: free or square with the offsets that follow, and the electrical angle.
#include "base/figure.h"
#include "base/finding.h"
#include "homing/attitude.h"
#include "homing/electrical_angle.h"
#include "machine/homing.h"

namespace evenbeam::homing {

// What the offsets are and which zero they move. position = raw - latch + offset. With D = b - a in the attitude
// chosen and z = axis_zero: offset A = k D - z, offset B = (k - 1) D - z, k = 0 where A's zero stays at its mark,
// 1 where B's does, 1/2 where each moves by half. The axis then reads 0 where the mean of a and b is z + (1/2 - k) D.
struct HomeOffsets {
  bool known = false;
  std::string attitude;   // "free" or "square"
  bool recorded = false;  // in machine.toml
  double b_minus_a_m = 0, lower_m = 0, upper_m = 0;
  machine::KeptZero kept = machine::KeptZero::side_a;
  bool kept_recorded = false;
  double axis_zero_m = 0;  // z
};
struct SideOffset {
  double value_m = 0, lower_m = 0, upper_m = 0;
};
SideOffset offset_a(const HomeOffsets& offsets);
SideOffset offset_b(const HomeOffsets& offsets);
double axis_zero_from_marks_m(const HomeOffsets& offsets);
std::string to_text(machine::KeptZero kept);

base::Finding offsets_finding(const HomeOffsets& offsets);
base::Finding trade_finding(const AttitudeTrade& trade, const HomeOffsets& offsets);
base::Finding angle_finding(const AngleAtMark& angle, const std::string& side, std::optional<double> loss_limit);

base::Figure trade_figure(const AttitudeTrade& trade, const AttitudeInput& input);

}  // namespace evenbeam::homing
