#include "trajectory/jerk_limited.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "base/check.h"
#include "base/input_error.h"

namespace evenbeam::trajectory {

namespace {

MotionState advance(const MotionState& s, double jerk, double t) {
  return {s.position_m + t * (s.velocity_m_per_s + t * (s.acceleration_m_per_s2 / 2 + t * jerk / 6)),
          s.velocity_m_per_s + t * (s.acceleration_m_per_s2 + t * jerk / 2), s.acceleration_m_per_s2 + t * jerk};
}

// A change of speed from (v, a) towards `direction`, ending with a = 0: jerk up to `peak`, hold, down.
struct Change {
  double up_s = 0, hold_s = 0, down_s = 0, jerk = 0;  // jerk of the first part; the last has the opposite
  double duration() const { return up_s + hold_s + down_s; }
};

// `peak_squared`: of the acceleration that would be reached without its limit, J |dv| + a^2/2.
Change change(double along, double peak_squared, double direction, const MoveLimits& m) {
  const double jerk = m.jerk_m_per_s3, most = m.acceleration_m_per_s2;
  const double wanted = std::sqrt(std::max(0.0, peak_squared)), peak = std::max({std::min(wanted, most), along, 0.0});
  Change c;
  c.jerk = direction * jerk;
  c.up_s = (peak - along) / jerk;
  c.down_s = peak / jerk;
  if (wanted > most) c.hold_s = (peak_squared - most * most) / (jerk * most);
  return c;
}

double distance(double v, double a, const Change& c) {
  MotionState s{0, v, a};
  s = advance(s, c.jerk, c.up_s);
  s.acceleration_m_per_s2 = c.hold_s > 0 || c.down_s > 0 ? c.jerk * c.down_s : 0;
  s = advance(s, 0, c.hold_s);
  s = advance(s, -c.jerk, c.down_s);
  return s.position_m;
}

// The problem in one direction: both changes go up (direction +1) or both down (-1) to the middle speed
// v_p = near + direction u^2; u >= 0 keeps digits where v_p is close to `near`.
// The end is taken backwards: from (v1, -a1), which covers the same distance.
struct OneWay {
  double v0, a0, v1, a1;  // a1 already turned
  double direction;
  double near, base0, base1, most_u;
  MoveLimits limits;
};

double turned(double v, double a, double jerk) { return v + a * std::abs(a) / (2 * jerk); }

OneWay one_way(const MotionState& from, const MotionState& to, double direction, const MoveLimits& m) {
  OneWay w{from.velocity_m_per_s,
           from.acceleration_m_per_s2,
           to.velocity_m_per_s,
           -to.acceleration_m_per_s2,
           direction,
           0,
           0,
           0,
           0,
           m};
  const double jerk = m.jerk_m_per_s3;
  const double s0 = direction * turned(w.v0, w.a0, jerk), s1 = direction * turned(w.v1, w.a1, jerk);
  const double along0 = direction * w.a0, along1 = direction * w.a1;
  // Peak squared when v_p is each change's own turned speed: its present acceleration, or none where it points away.
  const double own0 = along0 > 0 ? along0 * along0 : 0, own1 = along1 > 0 ? along1 * along1 : 0;
  const double near = std::max(s0, s1);
  w.near = direction * near;
  w.base0 = own0 + jerk * (near - s0);
  w.base1 = own1 + jerk * (near - s1);
  w.most_u = std::sqrt(std::max(0.0, m.speed_m_per_s - near));
  return w;
}

struct Pair {
  Change first, last;
};
Pair changes(const OneWay& w, double u) {
  const double extra = w.limits.jerk_m_per_s3 * u * u;
  return {change(w.direction * w.a0, w.base0 + extra, w.direction, w.limits),
          change(w.direction * w.a1, w.base1 + extra, w.direction, w.limits)};
}
double distance(const OneWay& w, double u) {
  const Pair p = changes(w, u);
  return distance(w.v0, w.a0, p.first) + distance(w.v1, w.a1, p.last);
}

struct Candidate {
  bool found = false;
  Change first, last;
  double cruise_s = 0, duration_s = std::numeric_limits<double>::infinity();
  double top_first = 0, top_last = 0;  // turning points of the acceleration, of a slanted move
  bool slanted = false;
};

void offer(Candidate& best, const Pair& p, double cruise_s) {
  const double duration = p.first.duration() + cruise_s + p.last.duration();
  if (duration < best.duration_s) best = {true, p.first, p.last, cruise_s, duration};
}

// Where distance(u) crosses `wanted` between u_low and u_high; the last bit of distance is cruised at v_p.
void cross(Candidate& best, const OneWay& w, double wanted, double low, double high) {
  const double f_low = distance(w, low) - wanted, f_high = distance(w, high) - wanted;
  if ((f_low > 0) == (f_high > 0) && f_low != 0 && f_high != 0) return;
  const bool rising = f_low < f_high;
  double a = low, b = high;
  for (int i = 0; i < 100 && a < b; ++i) {
    const double middle = 0.5 * (a + b);
    if (middle <= a || middle >= b) break;
    ((distance(w, middle) - wanted < 0) == rising ? a : b) = middle;
  }
  for (double u : {a, b}) {
    const double rest = wanted - distance(w, u), v = w.near + w.direction * u * u;
    const double cruise = v != 0 && rest / v > 0 ? rest / v : 0;
    if (std::abs(rest - cruise * v) <= 1e-12 * (std::abs(wanted) + std::abs(v) + 1e-300) || u == b) {
      offer(best, changes(w, u), cruise);
      return;
    }
  }
}

// Minimum of direction * distance on [low, high] by golden section: the piece has one bend at most.
double bend(const OneWay& w, double low, double high) {
  const double golden = 0.6180339887498949;
  double c = high - golden * (high - low), d = low + golden * (high - low);
  double f_c = w.direction * distance(w, c), f_d = w.direction * distance(w, d);
  for (int i = 0; i < 90; ++i) {
    if (f_c < f_d)
      high = d, d = c, f_d = f_c, c = high - golden * (high - low), f_c = w.direction * distance(w, c);
    else
      low = c, c = d, f_c = f_d, d = low + golden * (high - low), f_d = w.direction * distance(w, d);
  }
  return 0.5 * (low + high);
}

void search(Candidate& best, const OneWay& w, double wanted) {
  if (w.direction * w.near > w.limits.speed_m_per_s * (1 + 1e-12)) return;
  const double v_near = w.direction * w.near;
  // Below v_p = 0 (seen in `direction`) the distance first falls, then rises; above it only rises.
  const double u_zero = v_near < 0 ? std::min(std::sqrt(-v_near), w.most_u) : 0;
  if (u_zero > 0) {
    const double u_bend = bend(w, 0, u_zero);
    cross(best, w, wanted, 0, u_bend);
    cross(best, w, wanted, u_bend, u_zero);
  }
  cross(best, w, wanted, u_zero, w.most_u);
  const double rest = wanted - distance(w, w.most_u);
  if (w.direction * rest > 0) offer(best, changes(w, w.most_u), std::abs(rest) / w.limits.speed_m_per_s);
}

// Moves whose acceleration never passes zero between its two turning points p1 and p2: up to p1, down to p2, up to a1
// (for `direction` +1; mirrored for -1). Possible only next to an end acceleration that is not zero. Speed gives
// p1^2 - p2^2 (+ J A hold) = w; place is then a function of one of them, scanned for its crossings.
struct Slanted {
  double p1 = 0, p2 = 0, hold1_s = 0, hold2_s = 0;
  bool valid = false;
};

Slanted slanted(double w, double a0, double a1, bool positive, double part, const MoveLimits& m) {
  const double top = m.acceleration_m_per_s2, jerk = m.jerk_m_per_s3;
  Slanted s;
  if (positive) {
    s.p2 = part * a1;
    const double square = s.p2 * s.p2 + w;
    if (square < 0) return s;
    s.p1 = std::min(std::sqrt(square), top);
    s.hold1_s = std::max(0.0, (square - top * top) / (jerk * top));
  } else {
    s.p1 = part * a0;
    const double square = s.p1 * s.p1 - w;
    if (square < 0) return s;
    s.p2 = -std::min(std::sqrt(square), top);
    s.hold2_s = std::max(0.0, (square - top * top) / (jerk * top));
  }
  s.valid = s.p1 >= a0 && s.p1 >= s.p2 && s.p2 <= a1;
  return s;
}

MotionState end_of(const Slanted& s, MotionState at, double a1, double jerk) {
  at = advance(at, jerk, (s.p1 - at.acceleration_m_per_s2) / jerk);
  at = advance({at.position_m, at.velocity_m_per_s, s.p1}, 0, s.hold1_s);
  at = advance(at, -jerk, (s.p1 - s.p2) / jerk);
  at = advance({at.position_m, at.velocity_m_per_s, s.p2}, 0, s.hold2_s);
  return advance(at, jerk, (a1 - s.p2) / jerk);
}

void offer(Candidate& best, const Slanted& s, double a0, double a1, double direction, double jerk) {
  const double duration = (2 * (s.p1 - s.p2) + a1 - a0) / jerk + s.hold1_s + s.hold2_s;
  if (!(duration < best.duration_s)) return;
  // As two changes: up and hold, then down; second as it runs backwards from the end.
  best = {true,
          {(s.p1 - a0) / jerk, s.hold1_s, (s.p1 - s.p2) / jerk, direction * jerk},
          {(a1 - s.p2) / jerk, s.hold2_s, 0, direction * jerk},
          0,
          duration,
          direction * s.p1,
          direction * s.p2,
          true};
}

void search_slanted(Candidate& best, const MotionState& from, const MotionState& to, double direction,
                    const MoveLimits& m) {
  const double jerk = m.jerk_m_per_s3, a0 = direction * from.acceleration_m_per_s2;
  const double a1 = direction * to.acceleration_m_per_s2;
  const double w = jerk * direction * (to.velocity_m_per_s - from.velocity_m_per_s) + (a0 * a0 - a1 * a1) / 2;
  const MotionState start{0, direction * from.velocity_m_per_s, a0};
  const double wanted = direction * (to.position_m - from.position_m);
  for (bool positive : {true, false}) {
    if (positive ? !(a1 > 0) : !(a0 < 0)) continue;
    const auto miss = [&](double part, Slanted& s) {
      s = slanted(w, a0, a1, positive, part, m);
      return s.valid ? end_of(s, start, a1, jerk).position_m - wanted : std::numeric_limits<double>::quiet_NaN();
    };
    Slanted s;
    const int parts = 48;
    double low = 0, f_low = miss(0, s);
    for (int i = 1; i <= parts; ++i) {
      const double high = double(i) / parts, f_high = miss(high, s);
      if ((f_low <= 0 && f_high >= 0) || (f_low >= 0 && f_high <= 0)) {
        double a = low, b = high;
        for (int k = 0; k < 60; ++k) {
          const double middle = 0.5 * (a + b);
          ((miss(middle, s) > 0) == (f_low > 0) ? a : b) = middle;
        }
        miss(b, s);
        if (s.valid) offer(best, s, a0, a1, direction, jerk);
      }
      low = high, f_low = f_high;
    }
  }
}

void append(Move& move, double duration_s, double jerk, MotionState& s, double acceleration) {
  if (!(duration_s > 0)) return;
  s.acceleration_m_per_s2 = acceleration;
  move.phases[move.count++] = {duration_s, jerk, s};
  s = advance(s, jerk, duration_s);
  move.duration_s += duration_s;
  move.peak_acceleration_m_per_s2 =
      std::max({move.peak_acceleration_m_per_s2, std::abs(acceleration), std::abs(s.acceleration_m_per_s2)});
}

// Largest |v| over the move: at phase ends and where a passes zero inside a phase.
double peak_speed(const Move& move) {
  double peak = std::abs(move.end.velocity_m_per_s);
  for (int i = 0; i < move.count; ++i) {
    const Phase& p = move.phases[i];
    peak = std::max(peak, std::abs(p.start.velocity_m_per_s));
    const double t = p.jerk_m_per_s3 != 0 ? -p.start.acceleration_m_per_s2 / p.jerk_m_per_s3 : -1;
    if (t > 0 && t < p.duration_s)
      peak = std::max(peak, std::abs(advance(p.start, p.jerk_m_per_s3, t).velocity_m_per_s));
  }
  return peak;
}

Move assemble(const MotionState& from, const MotionState& to, const Candidate& c) {
  Move move;
  MotionState s = from;
  const double top0 = c.slanted ? c.top_first : c.first.jerk * c.first.down_s;
  const double top1 = c.slanted ? -c.top_last : c.last.jerk * c.last.down_s;
  append(move, c.first.up_s, c.first.jerk, s, from.acceleration_m_per_s2);
  append(move, c.first.hold_s, 0, s, top0);
  append(move, c.first.down_s, -c.first.jerk, s, top0);
  append(move, c.cruise_s, 0, s, 0);
  // The last change runs backwards: down, hold, up, with the acceleration turned.
  append(move, c.last.down_s, -c.last.jerk, s, 0);
  append(move, c.last.hold_s, 0, s, -top1);
  append(move, c.last.up_s, c.last.jerk, s, -top1);
  move.end = to;
  move.peak_speed_m_per_s = peak_speed(move);
  return move;
}

void want_state(const MotionState& s, const MoveLimits& m, const char* name, double toward,
                std::vector<base::Trouble>& troubles) {
  const double v = s.velocity_m_per_s, a = s.acceleration_m_per_s2;
  if (!std::isfinite(s.position_m) || !std::isfinite(v) || !std::isfinite(a)) {
    troubles.push_back({"move", 0, 0, fmt::format("{} state ({}, {}, {})", name, s.position_m, v, a),
                        "finite numbers", "Give a state of motion"});
    return;
  }
  const double turn = turned(v, toward * a, m.jerk_m_per_s3), slack = 1 + 1e-12;
  if (std::abs(a) > m.acceleration_m_per_s2 * slack || std::abs(v) > m.speed_m_per_s * slack ||
      std::abs(turn) > m.speed_m_per_s * slack)
    troubles.push_back({"move", 0, 0, fmt::format("{} state with {} m/s and {} m/s2", name, v, a),
                        fmt::format("a state that stays within {} m/s and {} m/s2 at {} m/s3", m.speed_m_per_s,
                                    m.acceleration_m_per_s2, m.jerk_m_per_s3),
                        "Raise the limits or change the state"});
}

void check_limits(const MoveLimits& m, std::vector<base::Trouble>& troubles) {
  const std::pair<const char*, double> fields[] = {
      {"speed", m.speed_m_per_s}, {"acceleration", m.acceleration_m_per_s2}, {"jerk", m.jerk_m_per_s3}};
  for (const auto& [name, value] : fields)
    if (!std::isfinite(value) || !(value > 0))
      troubles.push_back({"move", 0, 0, fmt::format("{} limit {}", name, value), "a finite number > 0",
                          "State the limit of the move"});
}

}  // namespace

Move plan_move(const MotionState& from, const MotionState& to, const MoveLimits& limits) {
  std::vector<base::Trouble> troubles;
  check_limits(limits, troubles);
  if (troubles.empty()) {
    want_state(from, limits, "start", 1, troubles);
    want_state(to, limits, "end", -1, troubles);
  }
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  const double wanted = to.position_m - from.position_m;
  Candidate best;
  search(best, one_way(from, to, 1, limits), wanted);
  search(best, one_way(from, to, -1, limits), wanted);
  search_slanted(best, from, to, 1, limits);
  search_slanted(best, from, to, -1, limits);
  base::check(
      best.found, "every state is reachable",
      {wanted, from.velocity_m_per_s, from.acceleration_m_per_s2, to.velocity_m_per_s, to.acceleration_m_per_s2});
  return assemble(from, to, best);
}

Move plan_move(double start_m, double distance_m, const MoveLimits& limits) {
  return plan_move(MotionState{start_m, 0, 0}, MotionState{start_m + distance_m, 0, 0}, limits);
}

Move plan_speed_change(const MotionState& from, double speed_m_per_s, const MoveLimits& limits) {
  std::vector<base::Trouble> troubles;
  check_limits(limits, troubles);
  if (troubles.empty()) {
    want_state(from, limits, "start", 1, troubles);
    want_state({0, speed_m_per_s, 0}, limits, "end", 1, troubles);
  }
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
  const double jerk = limits.jerk_m_per_s3, v = from.velocity_m_per_s, a = from.acceleration_m_per_s2;
  const double miss = speed_m_per_s - turned(v, a, jerk), direction = miss < 0 ? -1 : 1, along = direction * a;
  Candidate c{
      true, change(along, (along > 0 ? along * along : 0) + jerk * std::abs(miss), direction, limits), {}, 0, 0};
  MotionState to{from.position_m + distance(v, a, c.first), speed_m_per_s, 0};
  return assemble(from, to, c);
}

MotionState at(const Move& move, double t) {
  if (move.count == 0 || t >= move.duration_s)
    return {move.end.position_m + (t - move.duration_s) * move.end.velocity_m_per_s, move.end.velocity_m_per_s, 0};
  if (t < 0) {
    const MotionState& s = move.phases[0].start;
    return {s.position_m + t * s.velocity_m_per_s, s.velocity_m_per_s, 0};
  }
  int i = 0;
  for (; i + 1 < move.count && t >= move.phases[i].duration_s; ++i) t -= move.phases[i].duration_s;
  return advance(move.phases[i].start, move.phases[i].jerk_m_per_s3, t);
}

}  // namespace evenbeam::trajectory
