// Functions of a motion fit's unknowns, with what those share.
#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "identification/motion_fit.h"
#include "identification/motion_rows.h"

namespace evenbeam::identification {

using math::with_sd;

math::Estimate share_at(const MotionFit& fit, const machine::Machine& machine, double y_m, double payload_kg,
                        bool commanded) {
  base::check(fit.done, "a share needs a finished fit");
  const Eigen::VectorXd& x = fit.x;
  const double scale = fit.payload_scale ? x[kPayloadScale] : 1;
  const double moving = x[kCarriage] + scale * payload_kg;
  const double mass = x[kMass0] + moving;
  const double moment_over_span = x[kMoment0] + moving * y_m / machine.span_m;
  const double ratio = moment_over_span / mass;
  Eigen::VectorXd g = Eigen::VectorXd::Zero(x.size());
  g[kMoment0] = -1 / mass;
  g[kMass0] = ratio / mass;
  g[kCarriage] = -(y_m / machine.span_m) / mass + ratio / mass;
  if (fit.payload_scale) g[kPayloadScale] = payload_kg * g[kCarriage];
  const double real = 0.5 - ratio;
  if (!commanded) return with_sd(real, std::sqrt(g.dot(fit.covariance * g)));
  // sigma_c = (sigma/g_A) / (sigma/g_A + (1 - sigma)/g_B), g_A = 1 + e, g_B = 1 - e
  const double e = x[kImbalance];
  const double a = real / (1 + e), b = (1 - real) / (1 - e), sum = a + b;
  const double by_real = (b / (1 + e) + a / (1 - e)) / (sum * sum);
  const double by_e = (-b * a / (1 + e) - a * b / (1 - e)) / (sum * sum);
  g *= by_real;
  g[kImbalance] += by_e;
  return with_sd(a / sum, std::sqrt(g.dot(fit.covariance * g)));
}

math::Estimate friction_difference(const MotionFit& fit, double speed_m_per_s) {
  base::check(fit.done, "a friction difference needs a finished fit");
  Eigen::VectorXd g = Eigen::VectorXd::Zero(fit.x.size());
  const double direction = speed_m_per_s > 0 ? 1 : -1;
  g[kCoulombA] = direction;
  g[kCoulombB] = -direction;
  g[kViscousA] = speed_m_per_s;
  g[kViscousB] = -speed_m_per_s;
  return with_sd(g.dot(fit.x), std::sqrt(std::max(0.0, g.dot(fit.covariance * g))));
}

}  // namespace evenbeam::identification
