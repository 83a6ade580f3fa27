#pragma once
// How much skew and yaw moment the machine takes: every limit that can be stated, the smallest governs and is named.
// A moment limit becomes a skew limit through the yaw stiffness, |s| = M L/K_th, with the upper end of K_th (the safe
// end); a skew limit becomes a moment limit with the lower end. Skew is counted from the stress-free attitude.
//   bolted (or unknown) ends: guide moment (guide_moment.h), stated limits, moment of the joints, reading heads
//   flexures: the same, and how far the flexures may turn
//   pivoted: the yaw moment does not reach guides and heads; how far the pivots may turn, stated limits
//   all: the opposed force F that a drive takes, M = L F (A pushed by F, B by -F, arms L/2)
// A turn limit phi of joints or heads is a skew L phi; a head at e from its end's middle loses e s/L of its gap.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"
#include "limits/guide_moment.h"
#include "machine/machine.h"

namespace evenbeam::limits {

struct Candidate {
  std::string name;                  // "guide static safety", "stated skew limit", ...
  std::optional<double> moment_n_m;  // about z, both ends together
  std::optional<double> skew_m;
  std::string source;
};

struct Allowable {
  std::vector<Candidate> candidates;
  std::optional<double> moment_n_m, skew_m;
  std::optional<double> skew_upper_m;  // what the governing limit would allow at the soft end of K_th
  std::string moment_governs, skew_governs;
  std::optional<GuideMoment> guides;
  std::vector<std::string> unknown;  // limits that may be smaller but are not known, as sentences
};

// Where only the builder states a yaw stiffness it is taken as true within this part (common practice, no source).
inline constexpr double stated_stiffness_doubt = 0.3;
std::optional<base::Estimate> yaw_stiffness_of(const machine::Machine& machine,
                                               const std::optional<base::Estimate>& fitted);

Allowable allowable(const machine::Machine& machine, const std::optional<base::Estimate>& yaw_stiffness);

}  // namespace evenbeam::limits
