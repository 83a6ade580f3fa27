#include "math/state_space.h"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <complex>
#include <limits>

#include "base/check.h"

namespace evenbeam::math {

using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXcd;
using Eigen::VectorXd;

MatrixXcd response(const StateSpace& s, double w) {
  base::check(s.a.rows() == s.a.cols() && s.b.rows() == s.a.rows() && s.c.cols() == s.a.rows(), "matrices fit",
              {double(s.a.rows()), double(s.a.cols()), double(s.b.rows()), double(s.c.cols())});
  const std::complex<double> z = s.period_s > 0 ? std::polar(1.0, w * s.period_s) : std::complex<double>(0, w);
  MatrixXcd pencil = -s.a.cast<std::complex<double>>();
  pencil.diagonal().array() += z;
  const MatrixXcd states = pencil.partialPivLu().solve(s.b.cast<std::complex<double>>());
  return s.c.cast<std::complex<double>>() * states + s.d.cast<std::complex<double>>();
}

// Row and column sums without the diagonal are brought within a factor of two of each other (after Parlett and
// Reinsch, Numer. Math. 13, 1969; from memory).
Balanced balance(const MatrixXd& input) {
  Balanced out{input, VectorXd::Ones(input.rows())};
  const Eigen::Index n = input.rows();
  bool changed = true;
  for (int sweep = 0; changed && sweep < 100; ++sweep) {
    changed = false;
    for (Eigen::Index i = 0; i < n; ++i) {
      const double diagonal = std::abs(out.a(i, i));
      const double column = out.a.col(i).cwiseAbs().sum() - diagonal;
      const double row = out.a.row(i).cwiseAbs().sum() - diagonal;
      if (!(column > 0) || !(row > 0)) continue;
      const int exponent = static_cast<int>(std::lround(std::log2(row / column) / 2));
      const double factor = std::ldexp(1.0, exponent);
      if (exponent == 0 || column * factor + row / factor > 0.95 * (column + row)) continue;
      out.a.col(i) *= factor;
      out.a.row(i) /= factor;
      out.scale(i) *= factor;
      changed = true;
    }
  }
  return out;
}

MatrixXd exponential(const MatrixXd& a) {
  base::check(a.rows() == a.cols() && a.allFinite(), "square and finite", {double(a.rows()), double(a.cols())});
  if (a.rows() == 0) return a;
  const Balanced balanced = balance(a);
  const double norm = balanced.a.cwiseAbs().rowwise().sum().maxCoeff();
  const int squarings = norm > 0.5 ? static_cast<int>(std::ceil(std::log2(norm / 0.5))) : 0;
  const MatrixXd scaled = balanced.a * std::ldexp(1.0, -squarings);
  // 0.5^16/16! = 7e-19: the rest of the series is below rounding. e^A - 1 is squared, so that small steps keep
  // digits.
  MatrixXd less_one = scaled, term = scaled;
  for (int k = 2; k <= 16; ++k) {
    term = (term * scaled) / k;
    less_one += term;
  }
  for (int k = 0; k < squarings; ++k) less_one = less_one * less_one + 2 * less_one;
  MatrixXd result = balanced.scale.asDiagonal() * less_one * balanced.scale.cwiseInverse().asDiagonal();
  result.diagonal().array() += 1;
  return result;
}

Held hold(const MatrixXd& a, const MatrixXd& b, double dt_s) {
  const Eigen::Index n = a.rows(), m = b.cols();
  MatrixXd joined = MatrixXd::Zero(n + m, n + m);
  joined.topLeftCorner(n, n) = a * dt_s;
  joined.topRightCorner(n, m) = b * dt_s;
  const MatrixXd e = exponential(joined);
  return {e.topLeftCorner(n, n), e.topRightCorner(n, m)};
}

VectorXcd eigenvalues(const MatrixXd& a) {
  base::check(a.rows() == a.cols() && a.allFinite(), "square and finite", {double(a.rows()), double(a.cols())});
  if (a.rows() == 0) return {};
  const Eigen::EigenSolver<MatrixXd> solver(balance(a).a, false);
  if (solver.info() != Eigen::Success) return VectorXcd::Constant(a.rows(), std::numeric_limits<double>::quiet_NaN());
  VectorXcd values = solver.eigenvalues();
  std::stable_sort(values.begin(), values.end(),
                   [](const auto& p, const auto& q) { return std::abs(p) > std::abs(q); });
  return values;
}

double spectral_radius(const MatrixXd& a) {
  const VectorXcd values = eigenvalues(a);
  return values.size() ? std::abs(values(0)) : 0.0;
}

StateSpace series(const StateSpace& first, const StateSpace& second) {
  base::check(first.period_s == second.period_s && second.b.cols() == first.c.rows(), "systems fit",
              {first.period_s, second.period_s, double(second.b.cols()), double(first.c.rows())});
  const Eigen::Index n = first.a.rows(), m = second.a.rows();
  StateSpace out;
  out.period_s = first.period_s;
  out.a = MatrixXd::Zero(n + m, n + m);
  out.a.topLeftCorner(n, n) = first.a;
  out.a.bottomLeftCorner(m, n) = second.b * first.c;
  out.a.bottomRightCorner(m, m) = second.a;
  out.b.resize(n + m, first.b.cols());
  out.b << first.b, second.b * first.d;
  out.c.resize(second.c.rows(), n + m);
  out.c << second.d * first.c, second.c;
  out.d = second.d * first.d;
  return out;
}

}  // namespace evenbeam::math
