#include "protection/service_baseline.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::protection {
namespace {

constexpr double kFriction = 0.3, kFrequency = 0.05, kBrake = 0.5;

ServiceRow row(const std::string& quantity, const std::string& unit, const base::Estimate& e, double change,
               const std::string& hint) {
  const double half = std::max(e.upper - e.value, e.value - e.lower);
  const double sure = std::max(change, 2 * half);
  return {quantity, unit, e, std::max(0.0, e.value - sure), e.value + sure, hint};
}

// K and J taken as independent.
base::Estimate yaw_frequency(const base::Estimate& stiffness, const base::Estimate& inertia) {
  const double hz = std::sqrt(stiffness.value / inertia.value) / (2 * std::numbers::pi);
  const double part = std::hypot((stiffness.upper - stiffness.lower) / stiffness.value,
                                 (inertia.upper - inertia.lower) / inertia.value) /
                      4;
  return {hz, hz * (1 - part), hz * (1 + part)};
}

}  // namespace

std::vector<ServiceRow> service_baseline(const ServiceInput& in) {
  std::vector<ServiceRow> out;
  const std::string rises = "rises: dirt, dry guides, a dragging brake; falls: lost preload";
  if (in.coulomb_a_n)
    out.push_back(row("friction of A", "N", *in.coulomb_a_n, kFriction * in.coulomb_a_n->value, rises));
  if (in.coulomb_b_n)
    out.push_back(row("friction of B", "N", *in.coulomb_b_n, kFriction * in.coulomb_b_n->value, rises));
  const auto& k = in.yaw_stiffness_n_m_per_rad;
  const auto& j = in.yaw_inertia_kg_m2;
  if (k && j && k->value > 0 && j->value > 0) {
    const base::Estimate hz = yaw_frequency(*k, *j);
    out.push_back(row("yaw frequency", "Hz", hz, kFrequency * hz.value, "falls: loose joints or worn carriages"));
  }
  if (in.standing_skew_m && k && in.span_m > 0 && in.coulomb_a_n && in.coulomb_b_n) {
    const double per_n = std::abs(*in.standing_skew_m) / (in.span_m * in.span_m);
    const base::Estimate fight{k->value * per_n, k->lower * per_n, k->upper * per_n};
    out.push_back(row("standing fight", "N", fight, std::max(in.coulomb_a_n->value, in.coulomb_b_n->value) / 2,
                      "rises: rails moved, homed in another attitude"));
  }
  const std::string brake = "rises: worn or oily lining, failing supply; measured on the machine, here as stated";
  for (const auto& [time, name] : {std::pair{in.brake_close_a_s, "A"}, std::pair{in.brake_close_b_s, "B"}})
    if (time)
      out.push_back(
          row(std::string("closing time of brake ") + name, "s", {*time, *time, *time}, kBrake * *time, brake));
  return out;
}

}  // namespace evenbeam::protection
