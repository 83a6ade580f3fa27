#include "readiness/enable_forecast.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "readiness/gravity.h"
#include "readiness/racking.h"

namespace evenbeam::readiness {
namespace {

// Friction by hand that holds today is not friction that holds: half of it counts (common practice, no source).
constexpr double counted_part = 0.5;

void take_friction(FreeBridge& out, const Sheet& sheet, const Known& known) {
  if (known.coulomb_a_n && known.coulomb_b_n) {
    out.friction_a_n = std::max(0.0, known.coulomb_a_n->lower),
    out.friction_b_n = std::max(0.0, known.coulomb_b_n->lower);
    out.friction_from = "friction by the fit, its lower end";
    return;
  }
  const Measured* a = find_measured(sheet, "free_push_a");
  const Measured* b = find_measured(sheet, "free_push_b");
  if (a && b && a->value && b->value) {
    out.friction_a_n = counted_part * std::abs(*a->value), out.friction_b_n = counted_part * std::abs(*b->value);
    out.friction_from = "half of the friction by hand";
    return;
  }
  out.friction_from = "friction not counted";
}

}  // namespace

std::optional<double> free_at_enable_s(const machine::EnableTiming& t, const machine::Brake& brake) {
  if (!t.force_ready_s || !t.brake_open_delay_s || !brake.release_s) return std::nullopt;
  return std::max(0.0, *t.force_ready_s - (*t.brake_open_delay_s + *brake.release_s));
}

std::optional<double> free_at_disable_s(const machine::EnableTiming& t, const machine::Brake& brake) {
  if (!t.force_off_delay_s || !brake.close_s) return std::nullopt;
  return std::max(0.0, *brake.close_s - *t.force_off_delay_s);
}

FreeBridge free_bridge(const machine::Machine& m, const Sheet& sheet, const Known& known) {
  FreeBridge out{.span_m = m.span_m};
  if (const Measured* tilt = find_measured(sheet, "axis_tilt"); tilt && tilt->value)
    out.tilt_rad = std::copysign(std::min(std::abs(*tilt->value) + tilt->error, std::numbers::pi / 2), *tilt->value);
  if (known.yaw_stiffness_n_m_per_rad)
    out.yaw_stiffness_n_m_per_rad = known.yaw_stiffness_n_m_per_rad->upper;
  else if (m.guides.ends != machine::EndKind::pivoted)
    out.yaw_stiffness_n_m_per_rad = m.guides.yaw_stiffness_n_m_per_rad;
  out.yaw_inertia_kg_m2 = known.yaw_inertia_kg_m2 && known.yaw_inertia_kg_m2->lower > 0
                              ? std::optional(known.yaw_inertia_kg_m2->lower)
                              : smallest_racking_inertia_kg_m2(m);
  out.mass_kg = known.moving_mass_kg && known.moving_mass_kg->lower > 0 ? std::optional(known.moving_mass_kg->lower)
                                                                        : nameplate_mass_kg(m, m.payload_min_kg);
  take_friction(out, sheet, known);
  return out;
}

double fall_m(const FreeBridge& b, double gravity_n, double time_s) {
  const double pull = std::max(0.0, gravity_n - b.friction_a_n - b.friction_b_n);
  return b.mass_kg ? pull / *b.mass_kg * time_s * time_s / 2 : std::numeric_limits<double>::quiet_NaN();
}

std::optional<double> released_at_most_m(const FreeBridge& b, double standing_m) {
  if (!b.yaw_stiffness_n_m_per_rad || !(*b.yaw_stiffness_n_m_per_rad > 0)) return std::nullopt;
  const double held = b.span_m * b.span_m * (b.friction_a_n + b.friction_b_n) / (2 * *b.yaw_stiffness_n_m_per_rad);
  return 2 * std::max(0.0, std::abs(standing_m) - held);
}

std::optional<double> released_m(const FreeBridge& b, double standing_m, double time_s) {
  const auto most = released_at_most_m(b, standing_m);
  if (!most || !b.yaw_inertia_kg_m2) return std::nullopt;
  const double turn = time_s * std::sqrt(*b.yaw_stiffness_n_m_per_rad / *b.yaw_inertia_kg_m2);
  return *most / 2 * (1 - std::cos(std::min(turn, std::numbers::pi)));
}

double racked_m(double span_m, double gravity_n, double friction_n, double inertia_about_end_kg_m2, double time_s) {
  return span_m * span_m * std::max(0.0, gravity_n - friction_n) / inertia_about_end_kg_m2 * time_s * time_s / 2;
}

std::optional<double> inertia_about_end_kg_m2(const machine::Machine& m, bool held_b) {
  const auto motor_a = reflected_mass_kg(m.a), motor_b = reflected_mass_kg(m.b);
  if (!m.bridge_mass_kg || !motor_a || !motor_b) return std::nullopt;
  const double half = m.span_m / 2, end_m = held_b ? half : -half;
  const auto about = [&](double mass_kg, double y_m) { return mass_kg * (y_m - end_m) * (y_m - end_m); };
  double smallest = std::numeric_limits<double>::infinity();
  const machine::CarriageRange range = carriage_range(m);
  for (const double y_m : {range.min_y_m, range.max_y_m})
    for (const double payload_kg : {m.payload_min_kg, m.payload_max_kg.value_or(m.payload_min_kg)})
      smallest = std::min(smallest, m.bridge_inertia_kg_m2.value_or(*m.bridge_mass_kg * m.span_m * m.span_m / 12) +
                                        about(*m.bridge_mass_kg, m.bridge_centre_y_m.value_or(0)) +
                                        about(*motor_a + m.end_mass_a_kg.value_or(0), -half) +
                                        about(*motor_b + m.end_mass_b_kg.value_or(0), half) +
                                        about(m.carriage_mass_kg.value_or(0) + payload_kg, y_m));
  return smallest;
}

}  // namespace evenbeam::readiness
