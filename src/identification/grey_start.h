#pragma once
// Inner part of grey_box.h: the starts of the fit. The motion fit's plant, made plausible, with yaw, drive and
// bending frequencies on a grid; all are carried a few steps on few lines, the better ones further, the best few to
// the end.
#include <Eigen/Core>
#include <limits>
#include <vector>

#include "dynamics/plant.h"
#include "identification/grey_lines.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"

namespace evenbeam::identification {

struct GreyStart {
  dynamics::Plant plant;
  Eigen::VectorXd x;  // parameters (grey_problem.h); empty before the first step
  double cost = std::numeric_limits<double>::infinity();
};

// The best of them, carried to the end; none where no start led anywhere.
std::vector<GreyStart> carried_starts(const std::vector<GreyLine>& lines, const MotionFit& motion,
                                      const machine::Machine& machine, double carriage_y_m, double payload_kg);

}  // namespace evenbeam::identification
