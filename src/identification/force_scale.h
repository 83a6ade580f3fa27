#pragma once
// The common scale of force. Motion alone tells mass over force constant; what turns it into kilograms and real
// newtons is outside knowledge, each with its spread, combined by inverse variance:
//   nameplate force constants:   g = 1
//   nameplate masses:            g = M_papers / M_fitted
//   a payload of known weight:   g = 1 / k, k the commanded newtons it took per real newton
//   a known force at a side:     g = F / (o (1 +- e)), o the output it took, 1 +- e that side against the mean
// g = real newtons per mean-scale (nameplate) newton. Papers that a known force contradicts by more than three
// standard uncertainties are left out of the mean: a direct measurement goes before them.
//
// Friction in a known force: while the bridge creeps along the pull friction takes part of the force, while it creeps
// back friction takes part of the output. The middle of both outputs is free of it, but for a twentieth of half their
// difference (friction is not the same twice; common practice, no source) and what the fit's friction is more than
// that half (a side that did not slide meets it in part only; rectangular). With one output alone friction may lie
// anywhere between -r and +r, there and before the force came: rectangular, sqrt(2/3) r. Assumes loops with their
// integral parts on: without them the skew gives way and the guides take part of the force.
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

// What one more known force would make of it, told before it is done.
struct ScaleGain {
  std::string test;                     // in words
  double spread = 0;                    // standard uncertainty of what it would tell, relative
  double sd_now = 0, sd_after = 0;      // of the common scale, relative
  double mass_now = 0, mass_after = 0;  // of the moving mass, relative
};

struct ForceScale {
  math::Estimate common{1, 0.03, 0.94, 1.06, 0};
  std::vector<ScaleEvidence> evidence;
  std::vector<std::string> left_out;  // sources that a known force contradicts
  std::vector<std::string> untold;    // force tests that tell nothing yet, and why
  std::optional<ScaleGain> gain;      // of the test planned, or of one that is proposed; nullopt: nothing to gain
  double disagreement = 0;            // largest |difference| of two pieces over its standard uncertainty
};

ForceScale force_scale(const MotionFit& motion, const machine::Machine& machine);

// What one test tells of the common scale. nullopt: not done yet, or its friction is not known.
std::optional<math::Estimate> scale_by_force(const machine::ForceTest& test, const MotionFit& motion);

}  // namespace evenbeam::identification
