#include "protection/event_model.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::protection {
namespace {

constexpr double kQuickFilter_per_s = 2 * std::numbers::pi * 400;

}  // namespace

EventModel event_model(const dynamics::Plant& plant, const Place& place, const machine::Settings& s) {
  dynamics::Plant p = plant;
  p.carriage_y_m = place.carriage_y_m;
  p.payload_kg = place.payload_kg;
  const double mass = dynamics::total_mass_kg(p), moment = dynamics::first_moment_kg_m(p),
               inertia = dynamics::yaw_inertia_kg_m2(p), span = p.span_m;
  EventModel m{.span_m = span};
  m.w_aa_kg = mass / 4 - moment / span + inertia / (span * span);
  m.w_bb_kg = mass / 4 + moment / span + inertia / (span * span);
  m.w_ab_kg = mass / 4 - inertia / (span * span);
  m.stiffness_n_per_m = p.yaw_stiffness_n_m_per_rad / (span * span);
  m.damping_n_s_per_m = p.yaw_damping_n_m_s_per_rad / (span * span);
  m.a = {p.a.coulomb_n,    p.a.viscous_n_s_per_m,    p.a.force_scale, s.peak_force_a_n,
         s.coulomb_ff_a_n, s.viscous_ff_a_n_s_per_m, s.offset_a_n};
  m.b = {p.b.coulomb_n,    p.b.viscous_n_s_per_m,    p.b.force_scale, s.peak_force_b_n,
         s.coulomb_ff_b_n, s.viscous_ff_b_n_s_per_m, s.offset_b_n};
  const auto coordinate = [](const machine::CoordinateLoop& c) {
    return CoordinateModel{c.position_gain_per_s, c.velocity_gain_n_s_per_m,
                           c.velocity_integral_s > 0 ? 1 / c.velocity_integral_s : 0,
                           2 * std::numbers::pi * c.velocity_filter_hz};
  };
  m.mean = coordinate(s.mean);
  m.skew = coordinate(s.skew);
  m.share = s.share;
  m.mass_ff_kg = s.mass_ff_kg;
  m.lag_s = p.delay_s + p.current_lag_s + s.period_s / 2;
  // A quick filter is one more lag, the slower of both for both; a state of its own would only shorten the steps.
  double quick_s = 0;
  for (CoordinateModel* c : {&m.mean, &m.skew})
    if (c->filter_per_s > kQuickFilter_per_s) {
      quick_s = std::max(quick_s, 1 / c->filter_per_s);
      c->filter_per_s = 0;
    }
  m.lag_s += quick_s;
  m.lag_s = std::max(m.lag_s, 1e-4);
  m.carriage_kg = p.carriage_mass_kg + p.payload_kg;
  m.carriage_y_m = p.carriage_y_m;
  m.carriage_ahead_m = p.carriage_ahead_m;
  return m;
}

void move_carriage(EventModel& m, double y_m) {
  const auto part = [&](double y, double kg) {
    const double a = 0.5 - y / m.span_m, b = 0.5 + y / m.span_m;
    m.w_aa_kg += kg * a * a;
    m.w_ab_kg += kg * a * b;
    m.w_bb_kg += kg * b * b;
  };
  part(m.carriage_y_m, -m.carriage_kg);
  part(y_m, m.carriage_kg);
  m.carriage_y_m = y_m;
}

double yaw_frequency_hz(const EventModel& m) {
  // J - S^2/M over L^2 is det W/(sum of W): the mass that opposes a skew with no net force.
  const double mass = (m.w_aa_kg * m.w_bb_kg - m.w_ab_kg * m.w_ab_kg) / (m.w_aa_kg + m.w_bb_kg + 2 * m.w_ab_kg);
  return std::sqrt(m.stiffness_n_per_m / mass) / (2 * std::numbers::pi);
}

double energy_j(const EventModel& m, const State& z) {
  return (m.w_aa_kg * z[v_a] * z[v_a] + 2 * m.w_ab_kg * z[v_a] * z[v_b] + m.w_bb_kg * z[v_b] * z[v_b] +
          m.stiffness_n_per_m * z[skew] * z[skew]) /
         2;
}

}  // namespace evenbeam::protection
