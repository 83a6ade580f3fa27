#include "workflow/station_calls.h"

#include "acceptance/prove_station.h"
#include "limits/limits_station.h"

namespace evenbeam::workflow {

std::optional<base::Estimate> estimate_of(const Bench& bench, const std::string& station, const std::string& key) {
  for (const base::StationResult& result : bench.done) {
    const base::Value* value = result.name == station ? base::find_value(result, key) : nullptr;
    if (value == nullptr || !std::holds_alternative<double>(value->value)) continue;
    const double number = std::get<double>(value->value);
    return base::Estimate{number, value->lower.value_or(number), value->upper.value_or(number)};
  }
  return std::nullopt;
}

base::StationOutcome ask_limits(StationInput& bench) {
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  const limits::LimitsInput input{.yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                                  .yaw_damping_n_m_s_per_rad = fitted("yaw_damping_n_m_s_per_rad"),
                                  .moving_mass_kg = fitted("moving_mass_kg"),
                                  .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
                                  .carriage_y_m = bench.machine.carriage_y_m,
                                  .coulomb_a_n = fitted("coulomb_a_n"),
                                  .coulomb_b_n = fitted("coulomb_b_n"),
                                  .force_scale_a = fitted("force_scale_a"),
                                  .force_scale_b = fitted("force_scale_b")};
  return limits::limits_station(bench.machine, input);
}

base::StationOutcome ask_prove(StationInput& bench) {
  const auto fitted = [&](const char* key) { return estimate_of(bench, "fit", key); };
  acceptance::ProveInput input{.moving_mass_kg = fitted("moving_mass_kg"),
                               .yaw_inertia_kg_m2 = fitted("yaw_inertia_kg_m2"),
                               .yaw_stiffness_n_m_per_rad = fitted("yaw_stiffness_n_m_per_rad"),
                               .yaw_damping_n_m_s_per_rad = fitted("yaw_damping_n_m_s_per_rad")};
  const auto viscous_a = fitted("viscous_a_n_s_per_m");
  const auto viscous_b = fitted("viscous_b_n_s_per_m");
  if (viscous_a && viscous_b) input.viscous_n_s_per_m = viscous_a->value + viscous_b->value;
  if (const auto skew = estimate_of(bench, "limits", "allowable_skew_m")) input.allowable_skew_m = skew->value;
  return acceptance::prove_station(bench.recordings, bench.machine, input);
}

}  // namespace evenbeam::workflow
