#include "budget_cover.h"

#include <fmt/format.h>

#include <cmath>
#include <variant>

namespace evenbeam::checks {
namespace {

void add(Held& held, const base::Row& row, const std::string& part, double truth_n, double friction_n) {
  const auto value = base::find_number(row, part + "_n"), lower = base::find_number(row, part + "_lower_n"),
             upper = base::find_number(row, part + "_upper_n");
  if (!value || !lower || !upper) return;
  ++held.asked;
  held.held += truth_n >= *lower && truth_n <= *upper;
  held.half_width += (*upper - *lower) / 2 / friction_n;
  held.miss += std::abs(*value - truth_n) / friction_n;
}

}  // namespace

void add_budget(const base::StationResult& causes, const dynamics::Plant& p, Cover& cover) {
  const base::Value* budget = base::find_value(causes, "fight_budget");
  const auto* rows = budget == nullptr ? nullptr : std::get_if<std::vector<base::Row>>(&budget->value);
  if (rows == nullptr) return;
  const double g = (p.a.force_scale + p.b.force_scale) / 2, e = (p.a.force_scale - p.b.force_scale) / (2 * g);
  const double friction = (p.a.coulomb_n + p.b.coulomb_n) / 2 / g;
  for (const base::Row& row : *rows) {
    const double v = base::find_number(row, "speed_m_per_s").value_or(0),
                 s = base::find_number(row, "sum_n").value_or(0);
    if (std::abs(v) < 1e-4) continue;
    const double coulomb = (v > 0 ? 1 : -1) * (p.a.coulomb_n - p.b.coulomb_n) / (2 * g);
    const double viscous = v * (p.a.viscous_n_s_per_m - p.b.viscous_n_s_per_m) / (2 * g), output = -e * s / 2;
    const double damping = base::find_number(row, "yaw_damping_n").value_or(0);
    add(cover["Coulomb friction"], row, "coulomb_friction", coulomb, friction);
    add(cover["viscous friction"], row, "viscous_friction", viscous, friction);
    add(cover["force per output"], row, "force_per_output", output, friction);
    add(cover["rest"], row, "rest", 0, friction);
    const double whole = base::find_number(row, "whole_n").value_or(0);
    add(cover["yaw spring"], row, "yaw_spring", whole - coulomb - viscous - output - damping, friction);
  }
}

std::string cover_table(const Cover& cover) {
  std::string out = "| part | intervals | hold the truth | mean half-width | mean miss |\n|---|---|---|---|---|\n";
  for (const auto& [part, h] : cover)
    out += fmt::format("| {} | {} | {:.1f} % | {:.1f} % | {:.1f} % |\n", part, h.asked, 100.0 * h.held / h.asked,
                       100 * h.half_width / h.asked, 100 * h.miss / h.asked);
  return out;
}

}  // namespace evenbeam::checks
