#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kMassApart = 0.05;  // of all that moves: papers are as good as that; common practice, no source
constexpr double kTold = 0.5;

}  // namespace

// Mass in mean-scale newtons against the papers. Sides that differ in force (e) leave open which of them is the
// nameplate's, so the mass may be |e| more or less. Both sides weaker or stronger alike look the same, but for the
// carriage: where it was moved, its own mass is told apart, and a payload is on it whole.
std::vector<Cause> mass_not_as_stated(const identification::MotionFit& fit, const machine::Machine& machine) {
  const auto papers = machine::nameplate_mass_kg(machine, 0);
  if (!fit.done || !papers || !(*papers > 0) || fit.mass_kg.from_data < kTold) return {};
  const double e = std::abs(fit.force_imbalance.value), more = fit.mass_kg.value - *papers;
  const double sure = std::abs(more) - 1.96 * fit.mass_kg.sd - e * *papers, limit = kMassApart * *papers;
  if (!(sure > limit)) return {};
  const math::Estimate size = math::with_sd(more, fit.mass_kg.sd);
  const bool carriage = machine.carriage_mass_kg && fit.carriage_mass_kg.from_data > kTold;
  const double on_it = carriage ? fit.carriage_mass_kg.value - *machine.carriage_mass_kg : 0;
  const double in_scale = carriage ? *machine.carriage_mass_kg * more / *papers : 0;  // were it the force's scale
  const bool payload = carriage && std::abs(on_it - more) + 2 * fit.carriage_mass_kg.sd < std::abs(on_it - in_scale);
  return {cause(
      "mass_not_as_stated", size, "kg", limit,
      {fmt::format(
           "{:.1f} kg move {} than the papers and the recordings say{}.", std::abs(more), more > 0 ? "more" : "less",
           payload ? fmt::format(", {:.1f} kg of them with the carriage: a payload not stated", std::abs(on_it))
                   : "; a force per output of both sides that is off by the same part looks the same"),
       "State payload and masses as they are, or weigh: gains, share and trips are computed from them. A known force "
       "at "
       "both sides (station fit) tells mass from force."},
      0)};
}

}  // namespace evenbeam::diagnosis
