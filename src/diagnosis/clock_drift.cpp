#include <fmt/format.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "diagnosis/beside_columns.h"
#include "diagnosis/criteria.h"
#include "diagnosis/smooth_samples.h"
#include "identification/motion_rows.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kSure = 5;           // standard errors; a proposal, no source
constexpr double kLeastForce = 0.05;  // of the mean Coulomb friction, over the recording at top speed; a proposal
constexpr double kIndependent_s = 0.1;
constexpr double kLeastSpan_s = 2;
constexpr double kAlike = 3;  // times apart at most, two captures' growth; a proposal, no source

struct Growth {
  const recording::Recording* recording = nullptr;
  math::Estimate per_m;  // of the fight, N a second and m/s
  double force_n = 0;    // over the recording at top speed
};

std::optional<Growth> growth_of(const recording::Recording& r, double friction_n) {
  using recording::RunKind;
  if ((r.kind != RunKind::test_move && r.kind != RunKind::slow_jog) || r.time_s.empty()) return {};
  const double span_s = r.time_s.back() - r.time_s.front();
  const std::vector<SmoothSample> all = smooth_samples(r);
  const double top = top_speed(all), middle_s = r.time_s.front() + span_s / 2;
  const std::vector<SmoothSample> samples = moving(all);
  const auto n = static_cast<Eigen::Index>(samples.size());
  if (n < 200 || span_s < kLeastSpan_s) return {};
  Eigen::MatrixXd columns(n, 8);
  Eigen::VectorXd y(n), with_time(n);
  for (Eigen::Index i = 0; i < n; ++i) {
    const SmoothSample& s = samples[static_cast<std::size_t>(i)];
    columns.row(i) << 1, s.speed_m_per_s, s.acceleration_m_per_s2, s.speed_m_per_s > 0 ? 1 : -1, s.skew_m,
        s.skew_rate_m_per_s, s.skew_acceleration_m_per_s2, s.place_m;
    y[i] = s.fight_n();
    with_time[i] = s.speed_m_per_s * (s.time_s - middle_s);
  }
  const double sampled_s = static_cast<double>(r.time_s.size()) * r.period_s / static_cast<double>(all.size());
  const OneMore found =
      BesideColumns(columns, y, static_cast<double>(n) * sampled_s / kIndependent_s).with(with_time);
  const double force_n = std::abs(found.coefficient) * span_s * top;
  if (!(std::abs(found.coefficient) > kSure * found.standard_error) || !(force_n > kLeastForce * friction_n))
    return {};
  return Growth{&r, math::with_sd(found.coefficient, found.standard_error), force_n};
}

bool alike(const Growth& p, const Growth& q) {
  const double ratio = p.per_m.value / q.per_m.value;
  return ratio < kAlike && ratio > 1 / kAlike;
}

}  // namespace

// B sampled later by tau(t) = tau_0 + g t reads x_B + v tau, so the read skew is s - v tau and the spring's force
// K/L^2 (s_read + v tau - s_free): a fight with v t that the read skew does not show, of factor g K/L^2. Clocks that
// drift do so in every capture alike; what one capture shows alone is not named.
std::vector<Cause> clocks_drift(const std::vector<recording::Recording>& recordings, double spring_n_per_m,
                                double friction_n) {
  std::vector<Growth> all;
  for (const recording::Recording& r : recordings)
    if (const auto growth = growth_of(r, friction_n)) all.push_back(*growth);
  const auto most = std::max_element(all.begin(), all.end(),
                                     [](const Growth& p, const Growth& q) { return p.force_n < q.force_n; });
  if (most == all.end() ||
      std::count_if(all.begin(), all.end(), [&](const Growth& g) { return alike(g, *most); }) < 2)
    return {};
  const recording::Recording& r = *most->recording;
  const std::string as_if = spring_n_per_m > 0 ? fmt::format(": as if B were read {:.1f} us {} each second",
                                                             1e6 * std::abs(most->per_m.value) / spring_n_per_m,
                                                             most->per_m.value > 0 ? "later" : "earlier")
                                               : "";
  return {seen_in(
      cause("clocks_drift_" + r.name, math::with_sd(most->force_n, 0), "N", kLeastForce * friction_n,
            {fmt::format("The fight that goes with the speed grows along each capture, in {} by {:.0f} N from its "
                         "start to its end at top speed{}.",
                         r.name, most->force_n, as_if),
             "See whether both drives share one clock (distributed clocks on, one cycle, one master). A side whose "
             "friction changes as it warms looks the same: let it run warm and record once more; a clock drifts on, "
             "friction stands."},
            most->force_n / 2),
      r, r.time_s.front(), r.time_s.back())};
}

}  // namespace evenbeam::diagnosis
