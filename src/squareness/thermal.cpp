#include "squareness/thermal.h"

#include "math/student.h"

namespace evenbeam::squareness {

ThermalChange thermal_change(const Thermal& t, double span_m, double x_m) {
  std::vector<math::UncertainInput> inputs{
      math::rectangular("expansion A", t.expansion_a_per_k, t.expansion_error_per_k),
      math::rectangular("warming A", t.warming_a_k, t.warming_error_k),
      math::rectangular("warming B", t.warming_b_k, t.warming_error_k)};
  if (!t.one_material)
    inputs.push_back(math::rectangular("expansion B", t.expansion_b_per_k, t.expansion_error_per_k));
  const bool one = t.one_material;
  const double lever = (x_m - t.fixed_x_m) / span_m;
  const auto budget = math::propagate(
      [one, lever](const std::vector<double>& v) { return lever * (v[0] * v[1] - v[one ? 0 : 3] * v[2]); }, inputs);
  return {.x_m = x_m,
          .change_rad = budget.value,
          .standard_uncertainty_rad = budget.second_order_uncertainty,
          .half_width_rad = math::normal_quantile(0.975) * budget.second_order_uncertainty};
}

}  // namespace evenbeam::squareness
