#include "diagnosis/force_along_x.h"

#include <algorithm>
#include <cmath>

#include "diagnosis/fight_budget.h"
#include "identification/motion_rows.h"
#include "recording/motion.h"

namespace evenbeam::diagnosis {
namespace {

constexpr std::size_t kPlaces = 24, kLeastPlaces = 8;
constexpr std::size_t kLeastSamples = 10;  // at a place, each way
constexpr double kSettle_s = 0.15;         // left out after a change of speed; common practice, no source

struct Sum {
  double fight_n = 0, both_n = 0, n = 0;
};
using Places = std::vector<Sum>;

// The yaw spring's force at a sample; nothing where the recording's zero of skew is not known.
struct Spring {
  double stiffness_n_per_m = 0, free_n = 0;
};

bool usable(const recording::Recording& r) {
  using recording::RunKind;
  return (r.kind == RunKind::slow_jog || r.kind == RunKind::test_move) && recording::has_forces(r) &&
         recording::has_positions(r) && r.period_s > 0;
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

ForceAlongX of_recording(const recording::Recording& r, const Spring& spring) {
  ForceAlongX out{.recording = r.name};
  const std::vector<int> direction = directions(r, recording::motion_of(r));
  const Range there = covered(r, direction, 1), back = covered(r, direction, -1);
  const Range both{std::max(there.low, back.low), std::min(there.high, back.high)};
  if (!(both.high > both.low)) return out;
  keep(sums(r, direction, 1, both, spring), sums(r, direction, -1, both, spring), both, out);
  out.from_s = r.time_s.front();
  out.to_s = r.time_s.back();
  return out;
}

double way(const ForceAlongX& map) { return map.x_m.empty() ? 0 : map.x_m.back() - map.x_m.front(); }

}  // namespace

ForceAlongX force_along_x(const std::vector<recording::Recording>& recordings, const identification::MotionFit& fit) {
  ForceAlongX best;
  if (!fit.done) return best;
  for (const recording::Recording& r : recordings) {
    const auto zero = zero_of_skew(fit, r);
    if (!usable(r) || !zero) continue;
    const Spring spring{fit.x[identification::kStiffness], fit.x[*zero]};
    ForceAlongX map = of_recording(r, spring);
    if (map.x_m.size() >= kLeastPlaces && way(map) > way(best)) best = std::move(map);
  }
  return best;
}

}  // namespace evenbeam::diagnosis
