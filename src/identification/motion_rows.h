#pragma once
// The rows of the motion fit: which unknowns these recordings call for, and the two equations at every usable point.
#include <optional>
#include <string>
#include <vector>

#include "identification/local_motion.h"
#include "identification/robust_regression.h"
#include "machine/machine.h"
#include "recording/recording.h"

namespace evenbeam::identification {

// Unknowns in fixed order, then one fight offset (K/L^2 s_free) a switch-on.
enum Unknown {
  kMass0,
  kCarriage,
  kPayloadScale,
  kMoment0,
  kInertia0,
  kStiffness,
  kDamping,
  kCoulombA,
  kCoulombB,
  kViscousA,
  kViscousB,
  kImbalance,
  kOffset,
  kLagMass,
  kLagInertia,
  kLagMoment,
  kFlexMass,
  kFlexInertia,
  kFlexMoment,
  kFixedCount
};
std::vector<std::string> unknown_names(const std::vector<std::string>& switch_ons);

struct MotionRows {
  double bandwidth_hz = 0;
  Regression regression;
  std::vector<std::string> switch_ons;  // in order of their columns
  std::vector<int> recording;           // of each row, index into the list given
  std::vector<double> time_s;           // of each row
  double reference_y_m = 0;             // carriage place most rows were taken at
  bool carriage_known = false, carriage_varied = false, payload_varied = false;
};

// Only kinds in which the law holds throughout, and only points where both sides slide.
bool usable_for_motion(const recording::Recording& recording);
MotionRows motion_rows(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                       double bandwidth_hz);
// The local motion of each recording from `first` on that rows may be made of; empty for the others.
using LocalMotions = std::vector<std::optional<LocalMotion>>;
LocalMotions local_motions(const std::vector<recording::Recording>& recordings, double bandwidth_hz,
                           size_t first = 0);
// The same rows with the motions of the first recordings known already, in the same window: their samples are not
// read.
MotionRows motion_rows(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                       double bandwidth_hz, const LocalMotions& known);
std::string switch_on_of(const recording::Recording& recording);  // its group, else its own name

}  // namespace evenbeam::identification
