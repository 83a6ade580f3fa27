#include "protection/ordinary_move.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "protection/stepper.h"

namespace evenbeam::protection {

namespace {

constexpr int looks = 4;  // a step, for peaks

}  // namespace

void follow_reference(const trajectory::Move& move, double time_s, Mode& mode, State& z) {
  mode.jerk_m_per_s3 = 0;
  mode.direction = 0;
  double begins = 0;
  for (int i = 0; i < move.count; ++i) {
    const trajectory::Phase& phase = move.phases[static_cast<size_t>(i)];
    const double ends = begins + phase.duration_s;
    if (time_s >= begins - 1e-12 && time_s < ends - 1e-12) {
      mode.jerk_m_per_s3 = phase.jerk_m_per_s3;
      mode.direction = move.end.position_m >= move.phases[0].start.position_m ? 1 : -1;
      return;
    }
    begins = ends;
  }
  z[v_ref] = z[a_ref] = 0;
}

double next_border(const std::vector<double>& borders_s, double time_s) {
  for (double border : borders_s)
    if (border > time_s + 1e-12) return border;
  return never_s;
}

double longest_step_s(const EventModel& m) { return 0.1 / std::max(yaw_frequency_hz(m), 1.0); }

State standing_state(const EventModel& model) {
  State z{};
  z[skew] = model.standing_skew_m;
  const double fight = model.stiffness_n_per_m * model.standing_skew_m;
  z[f_a] = fight, z[f_b] = -fight;
  const double gain = model.skew.velocity_gain_n_s_per_m * (model.a.force_scale + model.b.force_scale) / 2;
  if (model.skew.integral_per_s > 0 && gain > 0) z[skew_integral] = fight / gain;
  return z;
}

OrdinaryMove ordinary_move(const EventModel& model, const Place& place, const trajectory::Move& move) {
  OrdinaryMove out{.model = model, .place = place, .move = move};
  double border = 0;
  out.borders_s.push_back(0);
  for (int i = 0; i < move.count; ++i)
    out.borders_s.push_back(border += move.phases[static_cast<size_t>(i)].duration_s);
  const double end_s = move.duration_s + after_move_s, longest = longest_step_s(model);
  // Masses of a body: anything else would gain energy by turning.
  if (!(model.w_aa_kg > 0 && model.w_aa_kg * model.w_bb_kg > model.w_ab_kg * model.w_ab_kg)) return out;
  State z = standing_state(model);
  Mode mode;
  for (double now = 0; now < end_s;) {
    follow_reference(move, now, mode, z);
    settle_mode(model, mode, z);
    out.pieces.push_back({now, z, mode});
    out.finished = out.pieces.size() < most_steps && std::isfinite(z[skew]);
    if (!out.finished) break;
    const double border_s = std::min(next_border(out.borders_s, now), end_s);
    const Step step = advance(model, mode, z, std::min(longest, border_s - now), {never_s, never_s});
    const bool whole = step.met == Met::length && step.length_s >= (border_s - now) * (1 - 1e-12);
    now = whole ? border_s : now + step.length_s;
    for (int i = 1; i <= looks; ++i) {
      const State seen = at(step.series, step.length_s * i / looks);
      out.peak_skew_m = std::max(out.peak_skew_m, std::abs(seen[skew_error]));
      out.peak_following_m =
          std::max(out.peak_following_m, std::abs(seen[mean_error]) + std::abs(seen[skew_error]) / 2);
    }
  }
  // At rest in the end: no faster than a thousandth of the move's speed, and not skewed as never before.
  const double moves = std::max(std::abs(z[v_a]), std::abs(z[v_b]));
  out.finished = out.finished && moves < 1e-3 * move.peak_speed_m_per_s && std::abs(z[skew]) < 0.1;
  return out;
}

double straightening_peak_m(const EventModel& model, double way_m, double rate_m_per_s) {
  const double moves_s = std::abs(way_m) / rate_m_per_s, end_s = moves_s + after_move_s;
  State z = standing_state(model);
  Mode mode{.skew_rate_m_per_s = way_m < 0 ? -rate_m_per_s : rate_m_per_s};
  double peak = 0;
  int steps = 0;
  for (double now = 0; now < end_s && steps < most_steps; ++steps) {
    if (now >= moves_s) mode.skew_rate_m_per_s = 0;
    settle_mode(model, mode, z);
    const double border_s = now < moves_s ? moves_s : end_s;
    const Step step = advance(model, mode, z, std::min(longest_step_s(model), border_s - now), {never_s, never_s});
    now = step.met == Met::length && step.length_s >= (border_s - now) * (1 - 1e-12) ? border_s : now + step.length_s;
    for (int i = 1; i <= looks; ++i)
      peak = std::max(peak, std::abs(at(step.series, step.length_s * i / looks)[skew_error]));
  }
  return steps < most_steps && std::isfinite(peak) ? peak : never_s;
}

OrdinaryPiece state_at(const OrdinaryMove& ordinary, double time_s) {
  base::check(!ordinary.pieces.empty() && time_s <= ordinary.move.duration_s + after_move_s,
              "a fault falls into its move", {time_s, ordinary.move.duration_s});
  auto next = std::upper_bound(ordinary.pieces.begin(), ordinary.pieces.end(), time_s,
                               [](double t, const OrdinaryPiece& p) { return t < p.from_s; });
  if (next != ordinary.pieces.begin()) --next;
  OrdinaryPiece out = *next;
  const double ahead = std::max(0.0, time_s - out.from_s);
  if (ahead > 0) out.state = at(series(ordinary.model, out.mode, out.state, ahead), ahead);
  out.from_s = time_s;
  return out;
}

}  // namespace evenbeam::protection
