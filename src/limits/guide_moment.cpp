#include "limits/guide_moment.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"

namespace evenbeam::limits {

namespace {

constexpr double gravity_m_per_s2 = 9.80665;

double known(const std::optional<double>& mass_kg, const char* name, std::vector<std::string>& missing) {
  if (!mass_kg) missing.push_back(name);
  return mass_kg.value_or(0);
}

}  // namespace

double lateral_arm_m(int carriages, double spacing_m) {
  base::check(carriages >= 1 && spacing_m >= 0, "carriages on a rail are counted from one", {double(carriages)});
  if (carriages == 1 || spacing_m == 0) return 0;
  double sum_m2 = 0;
  for (int i = 0; i < carriages; ++i) {
    const double x = spacing_m * (double(i) / (carriages - 1) - 0.5);
    sum_m2 += x * x;
  }
  return 2 * sum_m2 / spacing_m;
}

StandingLoad standing_load(const machine::Machine& m, int carriages_a_side) {
  StandingLoad load;
  const machine::CarriageRange range = machine::carriage_range(m);
  const double y_c = std::max(std::abs(range.min_y_m), std::abs(range.max_y_m)) / m.span_m;
  const double y_b = std::abs(m.bridge_centre_y_m.value_or(0)) / m.span_m;
  const double bridge = known(m.bridge_mass_kg, "bridge", load.missing);
  const double end_a = known(m.end_mass_a_kg, "end A", load.missing);
  const double end_b = known(m.end_mass_b_kg, "end B", load.missing);
  const double carriage = known(m.carriage_mass_kg, "carriage", load.missing);
  const double payload = m.payload_max_kg.value_or(0);
  const double heavier = bridge * (0.5 + y_b) + std::max(end_a, end_b) + (carriage + payload) * (0.5 + y_c);
  load.per_carriage_n = gravity_m_per_s2 * heavier / carriages_a_side;
  load.lighter_side_n =
      gravity_m_per_s2 * (bridge * (0.5 - y_b) + std::min(end_a, end_b) + carriage * std::max(0.0, 0.5 - y_c));
  return load;
}

std::optional<GuideMoment> guide_moment(const machine::Machine& machine, std::string& why_not) {
  const machine::Guides& guides = machine.guides;
  if (!guides.carriages_a_side || !guides.static_rating_n) {
    why_not = "the guide carriages' number a side and static rating C0 are not stated";
    return std::nullopt;
  }
  if (*guides.carriages_a_side == 1) {
    why_not = "one carriage a side makes no couple; its own yaw moment rating is not part of the description";
    return std::nullopt;
  }
  if (!guides.spacing_m) {
    why_not = "the spacing of the outer carriages of one side is not stated";
    return std::nullopt;
  }
  const StandingLoad load = standing_load(machine, *guides.carriages_a_side);
  GuideMoment out;
  out.static_safety_assumed = !guides.static_safety;
  out.static_safety = guides.static_safety.value_or(assumed_static_safety);
  out.standing_force_n = load.per_carriage_n;
  out.missing_masses = load.missing;
  out.arm_m = lateral_arm_m(*guides.carriages_a_side, *guides.spacing_m);
  out.lateral_force_n = std::max(0.0, *guides.static_rating_n / out.static_safety - out.standing_force_n);
  out.moment_n_m = 2 * out.lateral_force_n * out.arm_m;
  return out;
}

double lateral_force_n(double yaw_moment_n_m, double arm_m) {
  base::check(arm_m > 0, "a couple needs an arm", {arm_m});
  return std::abs(yaw_moment_n_m) / (2 * arm_m);
}

double nominal_life_km(double dynamic_rating_n, double load_n, double exponent) {
  base::check(dynamic_rating_n > 0 && load_n > 0, "rating and load are positive", {dynamic_rating_n, load_n});
  return 100.0 * std::pow(dynamic_rating_n / load_n, exponent);
}

double life_ratio(double standing_force_n, double lateral_force, double exponent) {
  base::check(standing_force_n > 0 && lateral_force >= 0, "life needs a standing load", {standing_force_n});
  return std::pow(standing_force_n / (standing_force_n + lateral_force), exponent);
}

double lateral_force_for_life_ratio_n(double standing_force_n, double ratio, double exponent) {
  base::check(ratio > 0 && ratio <= 1, "a life ratio lies in 0..1", {ratio});
  return standing_force_n * (std::pow(ratio, -1 / exponent) - 1);
}

}  // namespace evenbeam::limits
