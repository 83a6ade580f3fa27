#pragma once
// A fault that was captured: when each side's output vanished (the cross-trip time), the largest skew and guide
// moment until standstill, and the same predicted by the virtual gantry with the plant fitted from the other captures
// and the capture's own loops. Skew and moment count from the stress-free attitude; the prediction's error is judged
// on the largest skew away from the place at the fault's instant.
#include <optional>
#include <string>
#include <vector>

#include "dynamics/plant.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::protection {

struct CapturedFault {
  bool found = false;
  std::string why_not;
  std::string recording;
  double fault_s = 0, other_s = 0;  // first and second output gone, file time
  bool first_is_a = false;
  std::optional<double> cross_trip_s;                          // NaN-free: absent where only one output vanished
  double speed_m_per_s = 0;                                    // at the fault
  double peak_skew_m = 0, peak_at_s = 0, peak_moment_n_m = 0;  // signed as measured
  double end_s = 0;                                            // standstill, or the end of the file
  bool stood = false;
  double stop_way_m = 0;
  std::optional<double> seen_s;  // when the skew passes `trip`
  // By the virtual gantry; absent where plant or loops are not known.
  std::optional<double> predicted_peak_m, predicted_at_s;
  std::vector<double> predicted_time_s, predicted_skew_m;  // file time
};
// `stress_free_skew_m` in the capture's scale zeros.
CapturedFault captured_fault(const recording::Recording& recording, const machine::Machine& machine,
                             const dynamics::Plant* plant, double skew_trip_m);

}  // namespace evenbeam::protection
