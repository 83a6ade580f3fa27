#include "identification/force_scale.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::identification {
namespace {

constexpr double kNameplateForce = 0.03;  // spread of a motor's force constant; common practice, no source
constexpr double kNameplateMass = 0.05;   // spread of masses summed from papers; common practice, no source

}  // namespace

ForceScale force_scale(const MotionFit& motion, const machine::Machine& machine) {
  ForceScale out;
  if (machine.a.peak_force_n && machine.b.peak_force_n)
    out.evidence.push_back({"nameplate force constants", math::with_sd(1, kNameplateForce)});
  if (const auto papers = machine::nameplate_mass_kg(machine, 0); papers && motion.done) {
    const double ratio = *papers / motion.mass_kg.value;
    const double sd = ratio * std::hypot(kNameplateMass, motion.mass_kg.sd / motion.mass_kg.value);
    out.evidence.push_back({"masses by the papers", math::with_sd(ratio, sd)});
  }
  if (motion.done && motion.payload_scale && motion.payload_scale->from_data > 0.5) {
    const double k = motion.payload_scale->value;
    out.evidence.push_back({"payload of known weight", math::with_sd(1 / k, motion.payload_scale->sd / (k * k))});
  }
  double weight = 0, sum = 0;
  for (const ScaleEvidence& piece : out.evidence) {
    const double w = 1 / (piece.scale.sd * piece.scale.sd);
    weight += w;
    sum += w * piece.scale.value;
    for (const ScaleEvidence& other : out.evidence)
      out.disagreement = std::max(out.disagreement, std::abs(piece.scale.value - other.scale.value) /
                                                        std::hypot(piece.scale.sd, other.scale.sd));
  }
  if (weight > 0) out.common = math::with_sd(sum / weight, 1 / std::sqrt(weight), out.evidence.size() > 2 ? 1 : 0);
  return out;
}

}  // namespace evenbeam::identification
