#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

#include "diagnosis/beside_columns.h"
#include "diagnosis/criteria.h"
#include "diagnosis/smooth_samples.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kLeft = 0.4;         // of the square that a drive without a clip leaves; a proposal, no source
constexpr double kWholeExcess = 0.3;  // the excess is all lost: its factor is one within this; a proposal, no source
constexpr double kLeastExcess = 0.2;  // of the mean Coulomb friction, on average where clipped; a proposal, no source
constexpr double kSwing = 1.5;        // mean square of the outputs over that of their slow part; a proposal
constexpr double kNearly = 0.05;      // of the square: as good as the best; a proposal
constexpr double kLags = 0.7;         // of the skew's square left by what is lost; a proposal
constexpr int kLevels = 16, kLeastLevel = 3;  // of the most that is asked: below, nothing is moved by what is asked

struct Clip {
  double level_n = 0, left = 1, excess_n = 0;
  std::size_t first = 0, last = 0;
  bool on_a = false;
};

double excess(double force_n, double level_n) {
  return std::abs(force_n) > level_n ? force_n - std::copysign(level_n, force_n) : 0;
}

// F_A + F_B, which holds the lost force whole, and the skew, in which the side that lacks it lags.
struct Law {
  BesideColumns sum, skew;
};

// Mean of what is lost, and the samples between which it is.
void measure_excess(const Eigen::VectorXd& lost, Clip& clip) {
  double sum = 0, count = 0;
  for (Eigen::Index i = 0; i < lost.size(); ++i) {
    if (lost[i] == 0) continue;
    if (count == 0) clip.first = static_cast<std::size_t>(i);
    clip.last = static_cast<std::size_t>(i), sum += std::abs(lost[i]), count += 1;
  }
  clip.excess_n = count > 0 ? sum / count : 0;
}

// A level below the drive's own explains as much where the motion law makes the part between; so the highest that
// explains nearly as much as the best is it. Empty where that is not this side by the skew: x_A - x_B goes against
// the force that A lacks, with that which B lacks.
std::optional<Clip> clip_of(const Law& law, const Eigen::VectorXd& force, bool on_a) {
  const double most = force.cwiseAbs().maxCoeff();
  std::vector<Clip> levels;
  double best = kLeft;
  for (int k = kLeastLevel; k < kLevels; ++k) {
    const double level = most * k / kLevels;
    const Eigen::VectorXd lost = force.unaryExpr([&](double f) { return excess(f, level); });
    const OneMore whole = law.sum.with(lost), lag = law.skew.with(lost);
    if (whole.left >= kLeft || std::abs(whole.coefficient - 1) > kWholeExcess) continue;
    if (lag.left > kLags || (lag.coefficient < 0) != on_a) continue;
    Clip one{.level_n = level, .left = whole.left, .on_a = on_a};
    measure_excess(lost, one);
    levels.push_back(one);
    best = std::min(best, one.left);
  }
  for (auto one = levels.rbegin(); one != levels.rend(); ++one)
    if (one->left < best + kNearly) return *one;
  return {};
}

// An output that swings faster than the law is read here says nothing of a clip.
bool swings(const recording::Recording& r, const std::vector<SmoothSample>& samples) {
  double smooth = 0, raw = 0;
  for (const SmoothSample& s : samples) smooth += s.force_a_n * s.force_a_n + s.force_b_n * s.force_b_n;
  for (std::size_t k = 0; k < r.force_a_n.size(); ++k)
    raw += r.force_a_n[k] * r.force_a_n[k] + r.force_b_n[k] * r.force_b_n[k];
  return raw / static_cast<double>(r.force_a_n.size()) > kSwing * smooth / static_cast<double>(samples.size());
}

}  // namespace

std::vector<Cause> clipped_force(const recording::Recording& r, double friction_n) {
  std::vector<Cause> out;
  if (r.kind != recording::RunKind::test_move) return out;
  const std::vector<SmoothSample> all = smooth_samples(r, 2000);
  // At rest friction holds whatever is asked, up to its own size either way: more than a clip leaves.
  const std::vector<SmoothSample> samples = moving(all);
  const auto n = static_cast<Eigen::Index>(samples.size());
  if (n < 200 || swings(r, all)) return out;
  Eigen::MatrixXd columns(n, 5);
  Eigen::VectorXd a(n), b(n), skew(n);
  const double ramp = std::max(1e-3, 0.02 * top_speed(samples));
  for (Eigen::Index i = 0; i < n; ++i) {
    const SmoothSample& s = samples[static_cast<std::size_t>(i)];
    columns.row(i) << 1, s.speed_m_per_s, s.acceleration_m_per_s2, std::clamp(s.speed_m_per_s / ramp, -1.0, 1.0),
        s.skew_acceleration_m_per_s2;
    skew[i] = s.skew_m;
    a[i] = s.force_a_n, b[i] = s.force_b_n;
  }
  const double rows = static_cast<double>(n);  // no standard errors are asked
  const Law law{BesideColumns(columns, a + b, rows), BesideColumns(columns.leftCols(4), skew, rows)};
  const auto on_a = clip_of(law, a, true), on_b = clip_of(law, b, false);
  const auto tell = [&](const Clip& c, char side) {
    if (!(c.excess_n > kLeastExcess * friction_n)) return;
    out.push_back(seen_in(
        cause(
            fmt::format("force_clipped_{}_{}", side == 'A' ? 'a' : 'b', r.name), math::with_sd(c.level_n, 0), "N", 0,
            {fmt::format("What {}'s drive is asked beyond about {:.0f} N moves nothing: its force is cut off there, "
                         "{:.0f} N on average where it is asked more.",
                         side, c.level_n, c.excess_n),
             fmt::format(
                 "Look at {}'s drive: current limit, temperature derating, supply, a motor that is demagnetised. "
                 "The controller's own limit is above it and its integrals run on against it; lower the "
                 "acceleration until it is mended.",
                 side)},
            c.excess_n / 2),
        r, samples[c.first].time_s, samples[c.last].time_s));
  };
  if (on_a && (!on_b || on_a->left <= on_b->left))
    tell(*on_a, 'A');
  else if (on_b)
    tell(*on_b, 'B');
  return out;
}

}  // namespace evenbeam::diagnosis
