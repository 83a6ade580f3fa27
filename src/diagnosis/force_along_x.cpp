#include "diagnosis/force_along_x.h"

#include <algorithm>
#include <cmath>

#include "diagnosis/cause.h"
#include "diagnosis/fight_budget.h"
#include "identification/motion_rows.h"
#include "math/median.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

constexpr std::size_t kPlaces = 24, kLeastPlaces = 8;
constexpr std::size_t kLeastSamples = 10;  // at a place, each way
constexpr double kSettle_s = 0.15;         // left out after a change of speed; common practice, no source

constexpr double kHeldCounts = 20;  // where no spring is known: how far the read skew may change along the way

struct Sum {
  double fight_n = 0, both_n = 0, skew_m = 0, n = 0;
};
using Places = std::vector<Sum>;

// The yaw spring's force at a sample. Without a fit from the skew steps, s_free then stays in; 0: not known.
struct Spring {
  double stiffness_n_per_m = 0, free_n = 0;
};

bool usable(const recording::Recording& r) {
  using recording::RunKind;
  return (r.kind == RunKind::slow_jog || r.kind == RunKind::test_move) && recording::has_forces(r) &&
         recording::has_positions(r) && r.period_s > 0;
}

double spread(const std::vector<double>& v) {
  double n = 0, sum = 0, squares = 0;
  for (const double x : v)
    if (std::isfinite(x)) n += 1, sum += x, squares += x * x;
  return n > 1 ? std::sqrt(std::max(0.0, squares / n - sum / n * sum / n)) : 0;
}

double mean_position(const recording::Recording& r, std::size_t i) {
  return (r.position_a_m[i] + r.position_b_m[i]) / 2;
}

// Even speed, and unchanged since kSettle_s; the direction, 0 elsewhere.
std::vector<int> directions(const recording::Recording& r, const recording::Motion& motion) {
  std::vector<int> out(r.time_s.size(), 0);
  const auto back = static_cast<std::size_t>(std::ceil(kSettle_s / r.period_s));
  const double top = motion.top_speed_m_per_s;
  for (std::size_t i = back; i < out.size(); ++i) {
    const double v = motion.speed_at(i);
    if (!even_since(motion, i, back, 0.01) || std::abs(v) < 0.05 * top) continue;
    if (!std::isfinite(mean_position(r, i))) continue;
    out[i] = v > 0 ? 1 : -1;
  }
  return out;
}

struct Range {
  double low = 0, high = 0;
};

Range covered(const recording::Recording& r, const std::vector<int>& direction, int sign) {
  Range out{1e300, -1e300};
  for (std::size_t i = 0; i < direction.size(); ++i) {
    if (direction[i] != sign) continue;
    out.low = std::min(out.low, mean_position(r, i));
    out.high = std::max(out.high, mean_position(r, i));
  }
  return out;
}

Places sums(const recording::Recording& r, const std::vector<int>& direction, int sign, const Range& range,
            const Spring& spring) {
  Places out(kPlaces);
  for (std::size_t i = 0; i < direction.size(); ++i) {
    const double x = mean_position(r, i), both = r.force_a_n[i] + r.force_b_n[i];
    if (direction[i] != sign || x < range.low || x >= range.high || !std::isfinite(both)) continue;
    Sum& s = out[static_cast<std::size_t>((x - range.low) / (range.high - range.low) * kPlaces)];
    const double skew = r.position_a_m[i] - r.position_b_m[i];
    s.fight_n += (r.force_a_n[i] - r.force_b_n[i]) / 2 - spring.stiffness_n_per_m * skew + spring.free_n;
    s.both_n += both;
    s.skew_m += skew;
    s.n += 1;
  }
  return out;
}

void keep(const Places& there, const Places& back, const Range& range, ForceAlongX& out) {
  for (std::size_t k = 0; k < kPlaces; ++k) {
    const Sum &t = there[k], &b = back[k];
    if (t.n < kLeastSamples || b.n < kLeastSamples) continue;
    const double fight_t = t.fight_n / t.n, fight_b = b.fight_n / b.n, both_t = t.both_n / t.n,
                 both_b = b.both_n / b.n;
    out.x_m.push_back(range.low + (static_cast<double>(k) + 0.5) * (range.high - range.low) / kPlaces);
    out.fight_there_n.push_back(fight_t);
    out.fight_back_n.push_back(fight_b);
    out.pull_n.push_back((both_t + both_b) / 2);
    out.friction_a_n.push_back((both_t - both_b) / 4 + (fight_t - fight_b) / 2);
    out.friction_b_n.push_back((both_t - both_b) / 4 - (fight_t - fight_b) / 2);
  }
}

// Largest change of the read skew from place to place, each way alone.
double skew_change(const Places& places) {
  double low = 1e300, high = -1e300;
  for (const Sum& s : places) {
    if (s.n < kLeastSamples) continue;
    low = std::min(low, s.skew_m / s.n), high = std::max(high, s.skew_m / s.n);
  }
  return high - low;
}

// Spread of the fight over that of the skew while the skew is stepped: friction helps the spring each way, so that
// the ratio is the spring or more.
double stepped_spring(const std::vector<recording::Recording>& recordings) {
  double out = 0;
  for (const recording::Recording& r : recordings) {
    if (r.kind != recording::RunKind::skew_step || !recording::has_forces(r) || !recording::has_positions(r))
      continue;
    const double skew = spread(recording::difference(r.position_a_m, r.position_b_m));
    if (skew > 0) out = std::max(out, spread(recording::difference(r.force_a_n, r.force_b_n)) / 2 / skew);
  }
  return out;
}

ForceAlongX of_recording(const recording::Recording& r, const Spring& spring) {
  ForceAlongX out{.recording = r.name};
  const std::vector<int> direction = directions(r, recording::motion_of(r));
  const Range there = covered(r, direction, 1), back = covered(r, direction, -1);
  const Range both{std::max(there.low, back.low), std::min(there.high, back.high)};
  if (!(both.high > both.low)) return out;
  const Places up = sums(r, direction, 1, both, spring), down = sums(r, direction, -1, both, spring);
  keep(up, down, both, out);
  const bool held = std::max(skew_change(up), skew_change(down)) <= kHeldCounts * std::max(r.count_a_m, r.count_b_m);
  if (!(spring.stiffness_n_per_m > 0) && !held) return {.recording = r.name};
  out.from_s = r.time_s.front();
  out.to_s = r.time_s.back();
  return out;
}

double way(const ForceAlongX& map) { return map.x_m.empty() ? 0 : map.x_m.back() - map.x_m.front(); }

}  // namespace

ForceAlongX force_along_x(const std::vector<recording::Recording>& recordings, const identification::MotionFit& fit) {
  ForceAlongX best;
  const double stepped = fit.done ? 0 : stepped_spring(recordings);
  for (const recording::Recording& r : recordings) {
    const auto zero = fit.done ? zero_of_skew(fit, r) : std::nullopt;
    if (!usable(r) || (fit.done && !zero)) continue;
    const Spring spring = zero ? Spring{fit.x[identification::kStiffness], fit.x[*zero]} : Spring{stepped, 0};
    ForceAlongX map = of_recording(r, spring);
    map.spring_n_per_m = spring.stiffness_n_per_m;
    if (map.x_m.size() >= kLeastPlaces && way(map) > way(best)) best = std::move(map);
  }
  return best;
}

double friction_of_a_side(const identification::MotionFit& fit, const ForceAlongX& map) {
  if (fit.done) return coulomb_mean(fit);
  if (map.x_m.empty()) return 0;
  return (std::abs(math::median(map.friction_a_n)) + std::abs(math::median(map.friction_b_n))) / 2;
}

}  // namespace evenbeam::diagnosis
