#include "servo/law_response.h"

#include "base/check.h"

namespace evenbeam::servo {

using Complex = std::complex<double>;
using Eigen::MatrixXd;

Complex response(const CoordinateLaw& law, double w) {
  const Complex z = std::polar(1.0, w * law.period_s);
  const Complex velocity = law.filter_factor * law.difference_factor * (z - 1.0) / (z - (1 - law.filter_factor));
  // z - 1 from the half angle keeps digits at low frequency.
  const Complex step = Complex(0, 2 * std::sin(w * law.period_s / 2)) * std::polar(1.0, w * law.period_s / 2);
  Complex c = law.velocity_gain * (law.position_gain_per_s + velocity);
  if (law.integral_factor > 0) c *= 1.0 + law.integral_factor * z / step;
  for (int i = 0; i < law.filter_count; ++i) {
    const BiquadLaw& f = law.filters[i];
    c *= ((f.b0 * z + f.b1) * z + f.b2) / ((z + f.a1) * z + f.a2);
  }
  return c;
}

SideResponse combine(double share, Complex mean, Complex skew) {
  return {share * mean / 2.0 + skew, share * mean / 2.0 - skew, (1 - share) * mean / 2.0 - skew,
          (1 - share) * mean / 2.0 + skew};
}

SideResponse response(const LoopLaw& law, double w) {
  return combine(law.share, response(law.mean, w), response(law.skew, w));
}

namespace {

// States: q_{k-1}, v, I, then two a biquad. Inputs q, r, r'. Output u.
math::StateSpace coordinate_space(const CoordinateLaw& law) {
  const int n = 3 + 2 * law.filter_count;
  math::StateSpace s{MatrixXd::Zero(n, n), MatrixXd::Zero(n, 3), MatrixXd::Zero(1, n), MatrixXd::Zero(1, 3),
                     law.period_s};
  const double alpha = law.filter_factor, over_t = law.difference_factor, kp = law.position_gain_per_s;
  s.b(0, 0) = 1;
  s.a(1, 0) = -alpha * over_t, s.a(1, 1) = 1 - alpha, s.b(1, 0) = alpha * over_t;
  // w = Kp (r - q) + r' - v_k
  Eigen::RowVectorXd w_x = -s.a.row(1), w_u = -s.b.row(1);
  w_u += Eigen::RowVector3d(-kp, kp, 1);
  s.a.row(2) = law.integral_factor * w_x, s.b.row(2) = law.integral_factor * w_u;
  s.a(2, 2) += 1;
  Eigen::RowVectorXd u_x = law.velocity_gain * (w_x + s.a.row(2)), u_u = law.velocity_gain * (w_u + s.b.row(2));
  for (int i = 0; i < law.filter_count; ++i) {
    const BiquadLaw& f = law.filters[i];
    const int at = 3 + 2 * i;
    Eigen::RowVectorXd y_x = f.b0 * u_x;
    const Eigen::RowVectorXd y_u = f.b0 * u_u;
    y_x(at) += 1;
    s.a.row(at) = f.b1 * u_x - f.a1 * y_x, s.b.row(at) = f.b1 * u_u - f.a1 * y_u;
    s.a(at, at + 1) += 1;
    s.a.row(at + 1) = f.b2 * u_x - f.a2 * y_x, s.b.row(at + 1) = f.b2 * u_u - f.a2 * y_u;
    u_x = y_x, u_u = y_u;
  }
  s.c = u_x, s.d = u_u;
  return s;
}

}  // namespace

math::StateSpace state_space(const LoopLaw& law) {
  const math::StateSpace mean = coordinate_space(law.mean), skew = coordinate_space(law.skew);
  const Eigen::Index n = mean.a.rows(), m = skew.a.rows();
  MatrixXd into_mean = MatrixXd::Zero(3, law_inputs), into_skew = MatrixXd::Zero(3, law_inputs);
  into_mean(0, 0) = into_mean(0, 1) = 0.5, into_mean(1, 2) = into_mean(2, 3) = 1;
  into_skew(0, 0) = 1, into_skew(0, 1) = -1, into_skew(1, 5) = into_skew(2, 6) = 1;
  const Eigen::Vector2d mean_out(law.share, 1 - law.share), skew_out(1, -1);
  math::StateSpace out;
  out.period_s = law.mean.period_s;
  out.a = MatrixXd::Zero(n + m, n + m);
  out.a.topLeftCorner(n, n) = mean.a, out.a.bottomRightCorner(m, m) = skew.a;
  out.b.resize(n + m, law_inputs);
  out.b << mean.b * into_mean, skew.b * into_skew;
  out.c.resize(2, n + m);
  out.c << mean_out * mean.c, skew_out * skew.c;
  out.d = mean_out * mean.d * into_mean + skew_out * skew.d * into_skew;
  out.d.col(4) += mean_out * law.mass_ff_kg;
  out.d.col(7) += skew_out * law.skew_ff_kg;
  out.d.col(3) += Eigen::Vector2d(law.viscous_a_n_s_per_m, law.viscous_b_n_s_per_m);
  base::check(out.a.allFinite() && out.b.allFinite(), "finite law");
  return out;
}

}  // namespace evenbeam::servo
