#include "diagnosis/beside_columns.h"

#include <Eigen/QR>
#include <algorithm>
#include <cmath>

namespace evenbeam::diagnosis {

BesideColumns::BesideColumns(const Eigen::MatrixXd& columns, const Eigen::VectorXd& y, double independent)
    : independent_(independent) {
  Eigen::MatrixXd scaled = columns;
  for (Eigen::Index j = 0; j < scaled.cols(); ++j)
    if (const double norm = scaled.col(j).norm(); norm > 0) scaled.col(j) /= norm;
  Eigen::ColPivHouseholderQR<Eigen::MatrixXd> qr(scaled);
  qr.setThreshold(1e-9);  // a column that is the sum of others is none
  basis_ = qr.householderQ() * Eigen::MatrixXd::Identity(columns.rows(), qr.rank());
  rest_ = off(y);
}

Eigen::VectorXd BesideColumns::off(const Eigen::VectorXd& v) const { return v - basis_ * (basis_.transpose() * v); }

OneMore BesideColumns::with(const Eigen::VectorXd& z) const {
  OneMore out;
  const double n = static_cast<double>(rest_.size()), yy = rest_.squaredNorm();
  out.rest_rms = std::sqrt(yy / std::max(1.0, n));
  const Eigen::VectorXd own = off(z);
  const double zz = own.squaredNorm();
  if (!(zz > 1e-18 * z.squaredNorm()) || !(yy > 0)) return out;  // z is made of the others
  const double zy = own.dot(rest_);
  out.coefficient = zy / zz;
  out.left = std::clamp(1 - zy * zy / (zz * yy), 0.0, 1.0);
  const double freedom = std::max(1.0, independent_ - static_cast<double>(basis_.cols()) - 1);
  out.standard_error = std::sqrt(out.left * yy / n * n / (zz * freedom));
  return out;
}

}  // namespace evenbeam::diagnosis
