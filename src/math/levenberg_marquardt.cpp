#include "math/levenberg_marquardt.h"

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <limits>

namespace evenbeam::math {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using End = MarquardtResult::End;

// Largest cosine between the residual and a column: 0 at a minimum, whatever the scaling.
double gradient_cosine(const VectorXd& gradient, const VectorXd& column_squares, const VectorXd& residual) {
  const double whole = residual.norm();
  double largest = 0;
  for (Eigen::Index j = 0; j < gradient.size(); ++j) {
    const double size = std::sqrt(column_squares[j]) * whole;
    if (size > 0) largest = std::max(largest, std::abs(gradient[j]) / size);
  }
  return largest;
}

// (J'J)^-1 through the QR of the column-scaled Jacobian.
MatrixXd covariance_of(const MatrixXd& jacobian) {
  const Eigen::Index n = jacobian.cols();
  const VectorXd scale = jacobian.colwise().norm();
  if (!(scale.minCoeff() > 0)) return MatrixXd::Constant(n, n, std::numeric_limits<double>::quiet_NaN());
  const Eigen::HouseholderQR<MatrixXd> qr(jacobian * scale.cwiseInverse().asDiagonal());
  const MatrixXd r = qr.matrixQR().topRows(n).triangularView<Eigen::Upper>();
  const MatrixXd inverse =
      scale.cwiseInverse().asDiagonal() * r.triangularView<Eigen::Upper>().solve(MatrixXd::Identity(n, n));
  return inverse * inverse.transpose();
}

}  // namespace

MarquardtResult minimise(const ResidualFunction& function, const VectorXd& start, const MarquardtOptions& options) {
  MarquardtResult out;
  out.x = start;
  VectorXd residual, trial_residual;
  MatrixXd jacobian, normal;
  VectorXd gradient;
  bool moved = true;  // since normal and gradient were made
  if (!function(out.x, residual, &jacobian) || !residual.allFinite() || !jacobian.allFinite()) {
    out.end = End::outside_domain;
    return out;
  }
  double cost = residual.squaredNorm() / 2, damping = options.first_damping, grow = 2;
  VectorXd scale = jacobian.colwise().squaredNorm().cwiseMax(1e-300);
  out.end = End::iterations_used;
  for (; out.iterations < options.most_iterations; ++out.iterations) {
    if (moved) {
      normal.setZero(jacobian.cols(), jacobian.cols());
      normal.selfadjointView<Eigen::Lower>().rankUpdate(jacobian.transpose());  // half the work of a full product
      gradient.noalias() = jacobian.transpose() * residual;
      moved = false;
    }
    if (gradient_cosine(gradient, normal.diagonal(), residual) <= options.gradient_tolerance) {
      out.end = End::gradient_small;
      break;
    }
    scale = scale.cwiseMax(normal.diagonal());
    MatrixXd damped = normal;
    damped.diagonal() += damping * scale;
    const VectorXd step = -damped.selfadjointView<Eigen::Lower>().ldlt().solve(gradient);
    const double relative =
        step.cwiseProduct(scale.cwiseSqrt()).norm() / (out.x.cwiseProduct(scale.cwiseSqrt()).norm() + 1e-300);
    if (relative <= options.step_tolerance) {
      out.end = End::step_small;
      break;
    }
    const VectorXd trial = out.x + step;
    const bool inside = step.allFinite() && function(trial, trial_residual, nullptr) && trial_residual.allFinite();
    const double trial_cost = inside ? trial_residual.squaredNorm() / 2 : std::numeric_limits<double>::infinity();
    const double foreseen = step.dot(damping * scale.cwiseProduct(step) - gradient) / 2;
    const double gain = (cost - trial_cost) / foreseen;
    if (inside && gain > 0) {
      out.x = trial;
      cost = trial_cost;
      function(out.x, residual, &jacobian);
      moved = true;
      damping *= std::max(1.0 / 3, 1 - std::pow(2 * gain - 1, 3));
      grow = 2;
    } else {
      damping *= grow;
      grow *= 2;
      if (!(damping < 1e60)) {
        out.end = End::no_progress;
        break;
      }
    }
  }
  out.half_squares = cost;
  if (options.covariance) out.covariance = covariance_of(jacobian);
  return out;
}

}  // namespace evenbeam::math
