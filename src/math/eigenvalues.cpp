#include "math/eigenvalues.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <limits>

namespace evenbeam::math {
namespace {

// One sweep; true where some row and column were still out of balance by more than a factor of two.
bool balance_once(Eigen::MatrixXd& a) {
  bool moved = false;
  for (Eigen::Index i = 0; i < a.rows(); ++i) {
    const double diagonal = std::abs(a(i, i));
    const double column = a.col(i).cwiseAbs().sum() - diagonal, row = a.row(i).cwiseAbs().sum() - diagonal;
    if (!(column > 0) || !(row > 0)) continue;
    const int steps = static_cast<int>(std::lround(0.5 * std::log2(row / column)));
    if (steps == 0) continue;
    const double factor = std::ldexp(1.0, steps);
    if (column * factor + row / factor > 0.95 * (column + row)) continue;
    a.col(i) *= factor;
    a.row(i) /= factor;
    moved = true;
  }
  return moved;
}

}  // namespace

std::vector<std::complex<double>> eigenvalues(const Matrix& a) {
  base::check(a.rows == a.columns && a.rows > 0, "eigenvalues: square matrix", {double(a.rows), double(a.columns)});
  const auto n = static_cast<Eigen::Index>(a.rows);
  Eigen::MatrixXd work = Eigen::Map<const Eigen::MatrixXd>(a.values.data(), n, n);
  if (!work.allFinite()) return {};
  for (int sweep = 0; sweep < 100 && balance_once(work); ++sweep) {
  }
  const Eigen::EigenSolver<Eigen::MatrixXd> solver(work, false);
  if (solver.info() != Eigen::Success) return {};
  std::vector<std::complex<double>> values(solver.eigenvalues().data(), solver.eigenvalues().data() + n);
  std::sort(values.begin(), values.end(), [](const auto& x, const auto& y) {
    return x.real() != y.real() ? x.real() < y.real() : x.imag() < y.imag();
  });
  return values;
}

double spectral_radius(const Matrix& a) {
  double largest = std::numeric_limits<double>::quiet_NaN();
  for (const auto& value : eigenvalues(a)) largest = std::fmax(largest, std::abs(value));
  return largest;
}

}  // namespace evenbeam::math
