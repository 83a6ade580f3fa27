#pragma once
// Inner part of grey_box.h: the least-squares problem of one fit. What is known before the lines, residuals with
// exact derivatives, and the covariance over blocks of neighbouring lines.
#include <Eigen/Core>
#include <array>
#include <vector>

#include "identification/grey_box_model.h"
#include "identification/grey_lines.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "math/levenberg_marquardt.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct GreyPrior {
  Eigen::VectorXd centre, spread;      // in parameter space
  double mass_kg = 0, mass_sd_kg = 1;  // M, S, J of everything on rigid drives, from the motion fit
  double moment_kg_m = 0, moment_sd_kg_m = 1;
  double inertia_kg_m2 = 0, inertia_sd_kg_m2 = 1;
};
// Of the motion fit only the moving mass is taken at its word: ripple and friction that move the bridge pull its
// other answers (errors in variables), and the response, being made of periods' means, is free of that.
GreyPrior grey_prior(const dynamics::Plant& start, const MotionFit& motion, const machine::Machine& machine);

class GreyProblem {
 public:
  // `hold_s`: servo period, 0 where unknown. Near its Nyquist frequency the samples' response holds the aliases too,
  //   G(f) + sum over n = -1, 1 of G(f + n/T) f/(f + n/T)   (the hold's part relative to that of f).
  GreyProblem(dynamics::Plant base, std::vector<GreyLine> lines, GreyPrior prior, double hold_s);
  int count() const { return count_; }
  const std::vector<GreyLine>& lines() const { return lines_; }
  const std::vector<double>& hz() const { return hz_; }
  const GreyPrior& prior() const { return prior_; }
  Eigen::VectorXd padded(const Eigen::VectorXd& x) const;
  dynamics::Plant plant(const Eigen::VectorXd& x) const { return grey_plant(base_, padded(x)); }

  GreyResponse response(const Eigen::VectorXd& x, bool derivatives) const;
  // math::ResidualFunction
  bool operator()(const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) const;

 private:
  bool inside(const Eigen::VectorXd& p) const;
  void add_entry(const GreyResponse& model, size_t i, size_t k, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) const;

  dynamics::Plant base_;
  std::vector<GreyLine> lines_;
  std::vector<double> hz_, alias_hz_, alias_part_;  // two aliases of each line from alias_from_ on
  size_t alias_from_ = 0;
  GreyPrior prior_;
  int count_;
};

// Sandwich over blocks of neighbouring lines: what a lumped model lacks makes their residuals alike, and each block
// then counts as one observation. Never narrower than the inverse normal matrix times the reduced misfit.
Eigen::MatrixXd block_covariance(const GreyProblem& problem, const Eigen::VectorXd& x, double misfit);

// e, S, J, K, C from the parameters and their covariance.
ResponseKnowledge response_knowledge(const GreyProblem& problem, const Eigen::VectorXd& x,
                                     const Eigen::MatrixXd& covariance);

}  // namespace evenbeam::identification
