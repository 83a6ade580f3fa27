#pragma once
// Linear systems as matrices, and the four things done with them here: frequency response, exponential, exact hold,
// eigenvalues.
//   continuous (period_s = 0):  x' = A x + B u,      y = C x + D u
//   discrete   (period_s > 0):  x+ = A x + B u,      y = C x + D u
// Assumes nothing about scaling: exponential and eigenvalues balance by powers of two first, because servo matrices
// mix entries from 1e-9 to 1e9 and an unbalanced solver then loses digits (docs/equations.md, "balancing").
#include <Eigen/Core>

namespace evenbeam::math {

struct StateSpace {
  Eigen::MatrixXd a, b, c, d;
  double period_s = 0;
};

// C (zI - A)^-1 B + D with z = j w (continuous) or exp(j w T) (discrete).
Eigen::MatrixXcd response(const StateSpace& system, double angular_rad_per_s);

// exp(A), by balancing, scaling, a Taylor polynomial and squaring. Finite input only.
Eigen::MatrixXd exponential(const Eigen::MatrixXd& a);

// x(t + dt) = f x(t) + g u for u held over dt. Exact.
struct Held {
  Eigen::MatrixXd f, g;
};
Held hold(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b, double dt_s);

// The same transformed to comparable rows and columns: D^-1 A D with D = diag(scale), powers of two.
struct Balanced {
  Eigen::MatrixXd a;
  Eigen::VectorXd scale;
};
Balanced balance(const Eigen::MatrixXd& a);

// All eigenvalues, largest magnitude first. NaN in all where the iteration fails (does not happen for finite input).
Eigen::VectorXcd eigenvalues(const Eigen::MatrixXd& a);
double spectral_radius(const Eigen::MatrixXd& a);

// First `u` into `first`, its output into `second`. Both of one period.
StateSpace series(const StateSpace& first, const StateSpace& second);

}  // namespace evenbeam::math
