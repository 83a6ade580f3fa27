#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "diagnosis/beside_columns.h"
#include "diagnosis/criteria.h"
#include "diagnosis/smooth_samples.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kLeft = 0.85;        // of the square that a spring without play leaves; a proposal, no source
constexpr double kLeastForce = 0.25;  // of the mean Coulomb friction: play times stiffness; a proposal, no source
constexpr double kLeastCounts = 6;    // a proposal, no source
constexpr double kLeastRest = 0.002;  // of the same, left by a spring without play: above noise; a proposal
constexpr int kWidths = 16, kCentres = 15;

struct Found {
  double width_m = 0, stiffness_n_per_m = 0, left = 1, rest_rms_n = 0, at_m = 0;
};

double dead(double s, double half) { return s - std::clamp(s, -half, half); }

// In motion, where the direction of friction is known: d = c + b v + m a + f sign v + C s' + J s'' + K s + g x (a
// strain along the rails), and beside these K' dead(s): what a spring without play cannot make.
std::optional<Found> play_of(const recording::Recording& r) {
  const std::vector<SmoothSample> samples = moving(smooth_samples(r, 1500));
  const auto n = static_cast<Eigen::Index>(samples.size());
  if (n < 200) return {};
  Eigen::MatrixXd columns(n, 8);
  Eigen::VectorXd y(n), skew(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const SmoothSample& s = samples[static_cast<std::size_t>(i)];
    columns.row(i) << 1, s.speed_m_per_s, s.acceleration_m_per_s2, s.speed_m_per_s > 0 ? 1 : -1, s.skew_rate_m_per_s,
        s.skew_acceleration_m_per_s2, s.skew_m, s.place_m;
    y[i] = s.fight_n(), skew[i] = s.skew_m;
  }
  const BesideColumns beside(columns, y, static_cast<double>(n));  // no standard errors are asked
  const double low = skew.minCoeff(), range = skew.maxCoeff() - low;
  Found best;
  for (int w = 1; w <= kWidths; ++w)
    for (int c = 1; c <= kCentres; ++c) {
      const double width = range * w / (kWidths + 1), at = low + range * c / (kCentres + 1);
      const OneMore with = beside.with(skew.unaryExpr([&](double s) { return dead(s - at, width / 2); }));
      if (with.left < best.left && with.coefficient > 0)
        best = {width, with.coefficient, with.left, with.rest_rms, at};
    }
  return best;
}

}  // namespace

std::vector<Cause> play(const recording::Recording& r, double friction_n) {
  using recording::RunKind;
  if (r.kind != RunKind::test_move && r.kind != RunKind::slow_jog) return {};
  const auto found = play_of(r);
  const double count_m = std::max(r.count_a_m, r.count_b_m);
  if (!found || found->left > kLeft || !(found->width_m > kLeastCounts * count_m)) return {};
  const double force_n = found->width_m * found->stiffness_n_per_m;
  if (!(force_n > kLeastForce * friction_n) || !(found->rest_rms_n > kLeastRest * friction_n)) return {};
  return {seen_in(
      cause(
          "play_" + r.name, math::with_sd(found->width_m, 0), "m", kLeastCounts * count_m,
          {fmt::format(
               "The skew moves through about {:.0f} um in which no force holds it, around {:.0f} um; beyond, "
               "some {:.2g} N/m do. A spring without play leaves {:.1f} times as much of the fight unexplained.",
               1e6 * found->width_m, 1e6 * found->at_m, found->stiffness_n_per_m,
               1 / std::sqrt(std::max(found->left, 1e-6))),
           "Look for play where the bridge is held: bolts, flexures, pivots, preload of the guide carriages. Drives "
           "off and locked out, a dial gauge at one end, pushed and pulled by hand, shows it."},
          force_n / 2),
      r, r.time_s.front(), r.time_s.back())};
}

}  // namespace evenbeam::diagnosis
