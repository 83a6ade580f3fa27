#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "diagnosis/criteria.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kMassApart = 0.05;  // of all that moves: papers are as good as that; common practice, no source
constexpr double kTold = 0.5;
constexpr double kSlopeApart = 0.1;  // of the papers' slope of the share; common practice, no source

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
       "at both sides (station fit) tells mass from force."},
      0)};
}

// The share that makes no yaw is 1/2 - S/(M L) (identification/motion_fit.h); the carriage's place y gives S the part
// m_c y, so that the share's slope along y is -m_c/(M L). What carriage and payload weigh against all that moves is a
// ratio of masses, in which a force scale common to both sides has no part.
std::vector<Cause> share_slope_not_as_stated(const identification::MotionFit& fit, const machine::Machine& machine) {
  const auto papers = machine::nameplate_mass_kg(machine, 0);
  if (!fit.done || !papers || !(*papers > 0) || !machine.carriage_mass_kg || !(*machine.carriage_mass_kg > 0))
    return {};
  const math::Estimate &carriage = fit.carriage_mass_kg, &mass = fit.mass_kg;
  if (std::min(carriage.from_data, mass.from_data) < kTold || !(mass.value > 0) || !(carriage.value > 0)) return {};
  const double stated = *machine.carriage_mass_kg / *papers, found = carriage.value / mass.value;
  const double sd = found * std::hypot(carriage.sd / carriage.value, mass.sd / mass.value) / stated;
  const math::Estimate apart = math::with_sd(found / stated - 1, sd);
  // The end of the interval nearest to zero must be over the limit: a share is entered, not only looked at.
  const double sure = std::min(std::abs(apart.lower), std::abs(apart.upper));
  if (!beside_zero(apart) || !(sure > kSlopeApart)) return {};
  return {cause(
      "share_slope_not_as_stated", apart, "1", kSlopeApart,
      {fmt::format(
           "The share moves with the carriage by {:.1f} % a metre, not by the {:.1f} % of the papers: carriage "
           "and what is on it are {:.3f} of all that moves, not {:.3f}.",
           100 * found / machine.span_m, 100 * stated / machine.span_m, found, stated),
       "State payload and carriage as they are, in machine.toml and for each capture; enter the share that station "
       "loops gives for each place."},
      0)};
}

}  // namespace evenbeam::diagnosis
