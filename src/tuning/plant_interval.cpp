#include "tuning/plant_interval.h"

#include <algorithm>
#include <limits>

#include "base/check.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;
using identification::Identified;

constexpr double kQuantile = 1.959963984540054;
constexpr double kEnd = 0.999;  // a part that must stay above zero keeps a thousandth of its value

struct Range {
  double low = -std::numeric_limits<double>::infinity(), high = std::numeric_limits<double>::infinity();
};

Range possible(Part part, double value) {
  switch (part) {
    case Part::fixed_moment:
      return {};
    case Part::bending_end:
      return {-1.645, -1e-3};
    case Part::damping_a:
    case Part::damping_b:
    case Part::viscous_a:
    case Part::viscous_b:
    case Part::coulomb_a:
    case Part::coulomb_b:
    case Part::yaw_damping:
    case Part::yaw_stiffness:
    case Part::bending_damping:
    case Part::carriage_mass:
    case Part::delay:
      return {.low = 0};
    default:
      return {.low = (1 - kEnd) * value};
  }
}

void add(std::vector<UncertainPart>& out, const Plant& plant, Part part, double sd) {
  Plant copy = plant;
  const double value = value_of(copy, part);
  if (!(sd > 0)) return;
  const Range range = possible(part, value);
  out.push_back({part, value, sd, std::min(value, std::max(range.low, value - kQuantile * sd)),
                 std::max(value, std::min(range.high, value + kQuantile * sd))});
}

}  // namespace

Part part_of_grey(int grey) {
  using namespace identification;
  switch (grey) {
    case kGreyMotorA:
      return Part::motor_a;
    case kGreyMotorB:
      return Part::motor_b;
    case kGreyStiffnessA:
      return Part::stiffness_a;
    case kGreyStiffnessB:
      return Part::stiffness_b;
    case kGreyDampingA:
      return Part::damping_a;
    case kGreyDampingB:
      return Part::damping_b;
    case kGreyFixedMass:
      return Part::fixed_mass;
    case kGreyFixedMoment:
      return Part::fixed_moment;
    case kGreyFixedInertia:
      return Part::fixed_inertia;
    case kGreyYawStiffness:
      return Part::yaw_stiffness;
    case kGreyYawDamping:
      return Part::yaw_damping;
    case kGreyDelay:
      return Part::delay;
    case kGreyLag:
      return Part::lag;
    case kGreyBendingHz:
      return Part::bending_hz;
    case kGreyBendingDamping:
      return Part::bending_damping;
    case kGreyBendingMass:
      return Part::bending_mass;
    case kGreyBendingEnd:
      return Part::bending_end;
    default:
      break;
  }
  base::check(false, "a grey-box unknown with a part of its own", {double(grey)});
  return Part::fixed_mass;
}

bool is_time_or_shape(Part p) {
  return p == Part::delay || p == Part::lag || p == Part::bending_hz || p == Part::bending_damping ||
         p == Part::bending_end;
}

double& value_of(Plant& p, Part part) {
  switch (part) {
    case Part::motor_a:
      return p.a.motor_mass_kg;
    case Part::motor_b:
      return p.b.motor_mass_kg;
    case Part::stiffness_a:
      return p.a.drive_stiffness_n_per_m;
    case Part::stiffness_b:
      return p.b.drive_stiffness_n_per_m;
    case Part::damping_a:
      return p.a.drive_damping_n_s_per_m;
    case Part::damping_b:
      return p.b.drive_damping_n_s_per_m;
    case Part::viscous_a:
      return p.a.viscous_n_s_per_m;
    case Part::viscous_b:
      return p.b.viscous_n_s_per_m;
    case Part::coulomb_a:
      return p.a.coulomb_n;
    case Part::coulomb_b:
      return p.b.coulomb_n;
    case Part::scale_a:
      return p.a.force_scale;
    case Part::scale_b:
      return p.b.force_scale;
    case Part::fixed_mass:
      return p.fixed_mass_kg;
    case Part::fixed_moment:
      return p.fixed_moment_kg_m;
    case Part::fixed_inertia:
      return p.fixed_inertia_kg_m2;
    case Part::carriage_mass:
      return p.carriage_mass_kg;
    case Part::yaw_stiffness:
      return p.yaw_stiffness_n_m_per_rad;
    case Part::yaw_damping:
      return p.yaw_damping_n_m_s_per_rad;
    case Part::bending_hz:
      return p.bending_hz;
    case Part::bending_damping:
      return p.bending_damping;
    case Part::bending_mass:
      return p.bending_mass_kg;
    case Part::bending_end:
      return p.bending_end_shape;
    case Part::delay:
      return p.delay_s;
    case Part::lag:
      break;
  }
  return p.current_lag_s;
}

std::string name_of(Part part) {
  static const char* const names[] = {"motor mass A",
                                      "motor mass B",
                                      "drive stiffness A",
                                      "drive stiffness B",
                                      "drive damping A",
                                      "drive damping B",
                                      "viscous friction A",
                                      "viscous friction B",
                                      "Coulomb friction A",
                                      "Coulomb friction B",
                                      "force scale A",
                                      "force scale B",
                                      "bridge mass",
                                      "bridge moment",
                                      "bridge inertia",
                                      "carriage mass",
                                      "yaw stiffness",
                                      "yaw damping",
                                      "bending frequency",
                                      "bending damping",
                                      "bending mass",
                                      "bending shape at the ends",
                                      "delay",
                                      "current lag"};
  return names[static_cast<size_t>(part)];
}

std::vector<UncertainPart> uncertain_parts(const Identified& id) {
  std::vector<UncertainPart> out;
  const identification::MotionFit& m = id.motion;
  const double g = id.scale.common.value;
  const Plant& p = id.plant;
  if (id.grey.done) {
    for (size_t j = 0; j < id.grey.parameters.size(); ++j) {
      if (j == identification::kGreyImbalance) continue;
      const Part part = part_of_grey(static_cast<int>(j));
      add(out, p, part, id.grey.parameters[j].sd * (is_time_or_shape(part) ? 1 : g));
    }
  } else {
    add(out, p, Part::fixed_mass, g * m.mass_kg.sd);
    add(out, p, Part::fixed_moment, g * m.moment_kg_m.sd);
    add(out, p, Part::fixed_inertia, g * m.inertia_kg_m2.sd);
    add(out, p, Part::yaw_stiffness, g * m.yaw_stiffness_n_m_per_rad.sd);
    add(out, p, Part::yaw_damping, g * m.yaw_damping_n_m_s_per_rad.sd);
    add(out, p, Part::delay, m.lag_s.sd);
  }
  const double imbalance = id.grey.done && !id.grey.parameters.empty()
                               ? id.grey.parameters[identification::kGreyImbalance].sd
                               : m.force_imbalance.sd;
  add(out, p, Part::scale_a, g * imbalance);
  add(out, p, Part::scale_b, g * imbalance);
  add(out, p, Part::carriage_mass, g * m.carriage_mass_kg.sd);
  add(out, p, Part::viscous_a, g * m.viscous_a_n_s_per_m.sd);
  add(out, p, Part::viscous_b, g * m.viscous_b_n_s_per_m.sd);
  add(out, p, Part::coulomb_a, g * m.coulomb_a_n.sd);
  add(out, p, Part::coulomb_b, g * m.coulomb_b_n.sd);
  return out;
}

Plant drawn_plant(const Plant& plant, const std::vector<UncertainPart>& parts, math::Random& random) {
  Plant out = plant;
  double imbalance = 0;
  for (const UncertainPart& u : parts) {
    const double x = u.part == Part::scale_b ? -imbalance : random.normal();
    if (u.part == Part::scale_a) imbalance = x;
    const Range range = possible(u.part, u.value);
    value_of(out, u.part) =
        std::clamp(u.value + x * u.sd, std::min(range.low, u.value), std::max(range.high, u.value));
  }
  dynamics::bound_moment(out);
  return out;
}

Plant spread_plant(const Plant& plant, const std::vector<UncertainPart>& parts, double width, math::Random& random) {
  Plant out = plant;
  for (const UncertainPart& u : parts)
    value_of(out, u.part) = random.uniform(u.value + width * (u.low - u.value), u.value + width * (u.high - u.value));
  dynamics::bound_moment(out);
  return out;
}

}  // namespace evenbeam::tuning
