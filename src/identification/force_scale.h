#pragma once
// The common scale of force. Motion alone tells mass over force constant; what turns it into kilograms and real
// newtons is outside knowledge, each with its spread, combined by inverse variance:
//   nameplate force constants:   g = 1
//   nameplate masses:            g = M_papers / M_fitted
//   a payload of known weight:   g = 1 / k, k the commanded newtons it took per real newton
// g = real newtons per mean-scale (nameplate) newton.
#include <optional>
#include <string>
#include <vector>

#include "identification/motion_fit.h"
#include "machine/machine.h"

namespace evenbeam::identification {

struct ScaleEvidence {
  std::string source;
  math::Estimate scale;
};

struct ForceScale {
  math::Estimate common{1, 0.03, 0.94, 1.06, 0};
  std::vector<ScaleEvidence> evidence;
  double disagreement = 0;  // largest |difference| of two pieces over its standard uncertainty
};

ForceScale force_scale(const MotionFit& motion, const machine::Machine& machine);

}  // namespace evenbeam::identification
