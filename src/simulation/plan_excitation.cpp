#include "simulation/plan_excitation.h"

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/check.h"
#include "dynamics/linear_response.h"
#include "simulation/linear_loop.h"

namespace evenbeam::simulation {

namespace {

math::StateSpace system_for(const dynamics::Plant& plant, const std::optional<machine::Settings>& loops,
                            double period_s) {
  if (loops) return closed_loop(plant, *loops);
  const math::StateSpace s = dynamics::sampled(plant, period_s);
  // The same inputs and outputs as the closed loop's, without references and law.
  math::StateSpace out;
  out.a = s.a;
  out.period_s = period_s;
  out.b = Eigen::MatrixXd::Zero(s.a.rows(), loop_inputs);
  out.b.rightCols(2) = s.b;
  out.c = Eigen::MatrixXd::Zero(loop_outputs, s.a.rows());
  out.c.topRows(2) = s.c;
  out.d = Eigen::MatrixXd::Zero(loop_outputs, loop_inputs);
  return out;
}

// Peaks of the response to the shapes. Between samples a place moves by at most half a period at the top speed.
PlannedExcitation respond(const math::StateSpace& s, const std::vector<double>& a, const std::vector<double>& b) {
  PlannedExcitation peak;
  Eigen::VectorXd x = Eigen::VectorXd::Zero(s.a.rows()), next(x.size());
  double last_a = 0, last_b = 0, skew_rate = 0;
  for (size_t k = 0; k < a.size(); ++k) {
    const double pa = s.c.row(0).dot(x), pb = s.c.row(1).dot(x);
    const double fa = s.c.row(2).dot(x) + a[k], fb = s.c.row(3).dot(x) + b[k];
    peak.force_a_n = std::max(peak.force_a_n, std::abs(fa)), peak.force_b_n = std::max(peak.force_b_n, std::abs(fb));
    peak.skew_m = std::max(peak.skew_m, std::abs(pa - pb));
    peak.stroke_m = std::max({peak.stroke_m, std::abs(pa), std::abs(pb)});
    peak.speed_m_per_s =
        std::max({peak.speed_m_per_s, std::abs(pa - last_a) / s.period_s, std::abs(pb - last_b) / s.period_s});
    skew_rate = std::max(skew_rate, std::abs((pa - pb) - (last_a - last_b)) / s.period_s);
    last_a = pa, last_b = pb;
    next.noalias() = s.a * x;
    next += s.b.col(6) * a[k] + s.b.col(7) * b[k];
    x = next;
  }
  peak.skew_m += 0.5 * s.period_s * skew_rate;
  peak.stroke_m += 0.5 * s.period_s * peak.speed_m_per_s;
  return peak;
}

}  // namespace

PlannedExcitation plan_excitation(const dynamics::Plant& plant, const std::optional<machine::Settings>& loops,
                                  double period_s, const std::vector<double>& a, const std::vector<double>& b,
                                  const ExcitationLimits& limits) {
  base::check(a.size() == b.size() && !a.empty(), "shapes of one length", {double(a.size()), double(b.size())});
  base::check(!loops || loops->period_s == period_s, "period of the loops", {period_s});
  PlannedExcitation out = respond(system_for(plant, loops, period_s), a, b);
  double level = std::numeric_limits<double>::infinity();
  out.bound_by = "nothing";
  const auto bound = [&](const std::optional<double>& limit, double peak, const char* name) {
    if (!limit || !(peak > 0)) return;
    base::check(*limit >= 0 && std::isfinite(peak), "limit >= 0 and a finite response", {*limit, peak});
    const double allowed = limits.use * *limit / peak;
    if (allowed < level) level = allowed, out.bound_by = name;
  };
  bound(limits.force_a_n, out.force_a_n, "force of A");
  bound(limits.force_b_n, out.force_b_n, "force of B");
  bound(limits.skew_m, out.skew_m, "skew");
  bound(limits.stroke_m, out.stroke_m, "stroke");
  bound(limits.speed_m_per_s, out.speed_m_per_s, "speed");
  out.level = std::isfinite(level) ? level : 0;
  for (double* peak : {&out.force_a_n, &out.force_b_n, &out.skew_m, &out.stroke_m, &out.speed_m_per_s})
    *peak *= out.level;
  return out;
}

}  // namespace evenbeam::simulation
