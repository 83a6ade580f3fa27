#pragma once
// How far the set-up of a positioning measurement makes its parameters uncertain: the contributions that ISO/TR 230-9
// lists (names from memory), carried through the definitions of ISO 230-2 by Monte Carlo [JCGM 101:2008], so that no
// sensitivity has to be assumed. One trial adds to all deviations of a table
//   device     d_i, normal, sd U/2 a target (U expanded, k = 2), and  L_i e, e normal with sd (U per length)/2
//   alignment  -L_i g^2/2, g rectangular 0..(offset over the measured length)/length: reads short by the cosine
//   material   L_i [alpha t + da dT]: t rectangular within the temperature's doubt, da within the coefficient's
//   doubt,
//              dT the distance from 20 degC
//   drift      rectangular +-(drift range)/2 a reading
// with L_i from the first target, and takes the standard deviation of each parameter's change; expanded by k = 2.
// The finite number of runs is not among them, as in the technical report.
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "acceptance/iso230_2.h"

namespace evenbeam::acceptance {

// Empty = not stated, then not counted; what is not stated is named in the result.
struct SetUp {
  std::optional<double> device_m;               // expanded uncertainty (k = 2) of a reading, > 0
  std::optional<double> device_per_length;      // the part that grows with length, m/m
  std::optional<double> alignment_offset_m;     // beam against axis over the measured length
  std::optional<double> temperature_doubt_k;    // half width of the material temperature's error
  std::optional<double> temperature_from_20_k;  // material temperature less 20 degC
  std::optional<double> expansion_per_k;        // alpha of the scale or screw measured
  std::optional<double> expansion_doubt_per_k;  // half width of its error
  std::optional<double> drift_m;                // range seen while the axis stood, over the measurement's time
};

struct ParameterUncertainty {
  std::vector<double> expanded_m;       // k = 2, in the order of named_parameters; NaN where the parameter is
  std::vector<std::string> counted;     // contributions that were stated
  std::vector<std::string> not_stated;  // and those that were not
  std::string largest;                  // the one that alone moves accuracy A (or A rising) most; empty where none
};

// `trials` per contribution set; the same seed gives the same numbers.
ParameterUncertainty positioning_uncertainty(const std::vector<TargetRuns>& runs, const SetUp& set_up,
                                             long trials = 2000, std::uint64_t seed = 230);

}  // namespace evenbeam::acceptance
