#include "protection/event_model.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::protection {
namespace {

constexpr double kFinest_s = 1e-7;
constexpr double kQuickFilter_per_s = 2 * std::numbers::pi * 400;

struct Loops {
  double mean_n = 0, skew_n = 0, w_mean = 0, w_skew = 0;
};

// Speeds as the loops see them, before and behind their filters.
struct Read {
  double mean = 0, skew = 0, mean_filtered = 0, skew_filtered = 0;
};
Read read(const EventModel& m, const Mode& mode, const State& z) {
  const double a = mode.a.feedback_gain * z[v_a], b = mode.b.feedback_gain * z[v_b];
  Read out{(a + b) / 2, a - b, (a + b) / 2, a - b};
  if (m.mean.filter_per_s > 0) out.mean_filtered = z[mean_read];
  if (m.skew.filter_per_s > 0) out.skew_filtered = z[skew_read];
  return out;
}

Loops loops(const EventModel& m, const Mode& mode, const State& z, double one) {
  const Read r = read(m, mode, z);
  Loops out;
  out.w_mean = m.mean.position_gain_per_s * z[mean_error] + z[v_ref] - r.mean_filtered;
  out.w_skew = m.skew.position_gain_per_s * z[skew_error] + one * mode.skew_rate_m_per_s - r.skew_filtered;
  out.mean_n = m.mean.velocity_gain_n_s_per_m * (out.w_mean + z[mean_integral]) + m.mass_ff_kg * z[a_ref];
  out.skew_n = m.skew.velocity_gain_n_s_per_m * (out.w_skew + z[skew_integral]);
  return out;
}

double side_wanted(const SideModel& side, const SideMode& mode, int direction, const State& z, double one,
                   double share, double sign, const Loops& l) {
  switch (mode.output) {
    case Output::none:
      return 0;
    case Output::held:
      return one * mode.held_n;
    case Output::follow:
      return sign * l.skew_n;
    case Output::loop:
      break;
  }
  return share * l.mean_n + sign * l.skew_n + one * (direction * side.coulomb_ff_n + side.offset_n) +
         side.viscous_ff_n_s_per_m * z[v_ref];
}

double clipped(const SideModel& side, const SideMode& mode, double wanted, double one) {
  return mode.clip == 0 ? wanted : one * mode.clip * side.peak_n;
}

// Forces on the ends but for Coulomb friction.
double free_a(const EventModel& m, const Mode& mode, const State& z, double one) {
  return z[f_a] + one * mode.yaw_push_n - m.stiffness_n_per_m * z[skew] - m.damping_n_s_per_m * (z[v_a] - z[v_b]) -
         (m.a.viscous_n_s_per_m + mode.a.extra_viscous_n_s_per_m) * z[v_a];
}
double free_b(const EventModel& m, const Mode& mode, const State& z, double one) {
  return z[f_b] - one * mode.yaw_push_n + m.stiffness_n_per_m * z[skew] + m.damping_n_s_per_m * (z[v_a] - z[v_b]) -
         (m.b.viscous_n_s_per_m + mode.b.extra_viscous_n_s_per_m) * z[v_b];
}
double sliding(const SideModel& side, const SideMode& mode) {
  return mode.slides * (side.coulomb_n + mode.extra_coulomb_n);
}

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

double wanted_a_n(const EventModel& m, const Mode& mode, const State& z) {
  return side_wanted(m.a, mode.a, mode.direction, z, 1, m.share, 1, loops(m, mode, z, 1));
}
double wanted_b_n(const EventModel& m, const Mode& mode, const State& z) {
  return side_wanted(m.b, mode.b, mode.direction, z, 1, 1 - m.share, -1, loops(m, mode, z, 1));
}

double holding_a_n(const EventModel& m, const Mode& mode, const State& z) {
  const double b = mode.b.slides == 0 ? 0 : (free_b(m, mode, z, 1) - sliding(m.b, mode.b)) / m.w_bb_kg;
  return free_a(m, mode, z, 1) - m.w_ab_kg * b;
}
double holding_b_n(const EventModel& m, const Mode& mode, const State& z) {
  const double a = mode.a.slides == 0 ? 0 : (free_a(m, mode, z, 1) - sliding(m.a, mode.a)) / m.w_aa_kg;
  return free_b(m, mode, z, 1) - m.w_ab_kg * a;
}

State rate(const EventModel& m, const Mode& mode, const State& z, double one) {
  const Loops l = loops(m, mode, z, one);
  const double wanted_a = side_wanted(m.a, mode.a, mode.direction, z, one, m.share, 1, l);
  const double wanted_b = side_wanted(m.b, mode.b, mode.direction, z, one, 1 - m.share, -1, l);
  const double push_a = free_a(m, mode, z, one) - one * sliding(m.a, mode.a);
  const double push_b = free_b(m, mode, z, one) - one * sliding(m.b, mode.b);
  State d{};
  if (mode.a.slides != 0 && mode.b.slides != 0) {
    const double det = m.w_aa_kg * m.w_bb_kg - m.w_ab_kg * m.w_ab_kg;
    d[v_a] = (m.w_bb_kg * push_a - m.w_ab_kg * push_b) / det;
    d[v_b] = (m.w_aa_kg * push_b - m.w_ab_kg * push_a) / det;
  } else if (mode.a.slides != 0) {
    d[v_a] = push_a / m.w_aa_kg;
  } else if (mode.b.slides != 0) {
    d[v_b] = push_b / m.w_bb_kg;
  }
  const Read r = read(m, mode, z);
  const bool held = mode.a.clip != 0 || mode.b.clip != 0;
  d[skew] = z[v_a] - z[v_b];
  d[mean_error] = z[v_ref] - r.mean;
  d[skew_error] = one * mode.skew_rate_m_per_s - r.skew;
  d[mean_read] = m.mean.filter_per_s * (r.mean - z[mean_read]);
  d[skew_read] = m.skew.filter_per_s * (r.skew - z[skew_read]);
  d[mean_integral] = held ? 0 : m.mean.integral_per_s * l.w_mean;
  d[skew_integral] = held ? 0 : m.skew.integral_per_s * l.w_skew;
  d[f_a] = (m.a.force_scale * clipped(m.a, mode.a, wanted_a, one) - z[f_a]) / m.lag_s;
  d[f_b] = (m.b.force_scale * clipped(m.b, mode.b, wanted_b, one) - z[f_b]) / m.lag_s;
  d[v_ref] = z[a_ref];
  d[a_ref] = one * mode.jerk_m_per_s3;
  d[way] = (z[v_a] + z[v_b]) / 2;
  return d;
}

double energy_j(const EventModel& m, const State& z) {
  return (m.w_aa_kg * z[v_a] * z[v_a] + 2 * m.w_ab_kg * z[v_a] * z[v_b] + m.w_bb_kg * z[v_b] * z[v_b] +
          m.stiffness_n_per_m * z[skew] * z[skew]) /
         2;
}

Series series(const EventModel& m, const Mode& mode, const State& z, double longest_s) {
  // What the last term may add: 10 nm/s, 0.1 nm, 1 mN; a step ends where it would add more.
  constexpr double speed = 1e-8, length = 1e-10, force = 1e-3;
  Series out;
  out.terms[0] = z;
  double h = longest_s;
  for (int k = 1; k <= series_order; ++k) {
    State& term = out.terms[static_cast<size_t>(k)];
    term = rate(m, mode, out.terms[static_cast<size_t>(k - 1)], k == 1 ? 1 : 0);
    for (double& value : term) value /= k;
  }
  const State& last = out.terms[series_order];
  const double excess =
      std::max({std::abs(last[v_a]) / speed, std::abs(last[v_b]) / speed, std::abs(last[skew]) / length,
                std::abs(last[f_a]) / force, std::abs(last[f_b]) / force, std::abs(last[mean_read]) / speed,
                std::abs(last[skew_read]) / speed, 1e-300});
  h = std::min(h, 0.9 * std::pow(1 / excess, 1.0 / series_order));
  out.length_s = std::max(h, std::min(kFinest_s, longest_s));
  return out;
}

State at(const Series& s, double time_s) {
  State out = s.terms[series_order];
  for (int k = series_order - 1; k >= 0; --k)
    for (size_t i = 0; i < state_size; ++i) out[i] = out[i] * time_s + s.terms[static_cast<size_t>(k)][i];
  return out;
}

}  // namespace evenbeam::protection
