#pragma once
// Uncertainty of a number computed from uncertain inputs [GUM: JCGM 100:2008; Monte Carlo: JCGM 101:2008].
//   first order   u_c^2 = sum_i sum_j c_i c_j u_i u_j r_ij                                       [GUM, eq. 16]
//   with curvature (uncorrelated, symmetric inputs) adds
//                 sum_ij ( (d2f/dxi dxj)^2/2 + df/dxi d3f/dxi dxj^2 ) u_i^2 u_j^2               [GUM, 5.1.2 note]
//   degrees of freedom   nu = u_c^4 / sum_i (c_i u_i)^4/nu_i                                     [GUM, eq. G.2b]
//   expanded      U = coverage_factor(level, floor(nu)) u_c (student.h)                          [GUM, G.4.1]
// Derivatives are differences over the inputs' own standard uncertainties, x_i +- u_i: exact where the model is at
// most quadratic in each input, else what matters over the range in question. Clause numbers from memory.
#include <cstdint>
#include <functional>
#include <limits>
#include <string>
#include <vector>

#include "math/matrix.h"

namespace evenbeam::math {

enum class Shape { normal, student, rectangular, arcsine };

struct UncertainInput {
  std::string name;
  double value = 0;
  double standard_uncertainty = 0;                           // >= 0
  double degrees = std::numeric_limits<double>::infinity();  // of that uncertainty; > 0
  Shape shape = Shape::normal;                               // for Monte Carlo; student takes `degrees` (> 2)
};
// Half width to standard uncertainty: /sqrt(3), /sqrt(2).
UncertainInput rectangular(std::string name, double value, double half_width,
                           double degrees = std::numeric_limits<double>::infinity());
UncertainInput arcsine(std::string name, double value, double half_width);

using Model = std::function<double(const std::vector<double>&)>;

struct UncertaintyBudget {
  double value = 0;
  std::vector<double> sensitivities;    // c_i
  std::vector<double> contributions;    // |c_i| u_i
  double standard_uncertainty = 0;      // u_c, first order
  double second_order_uncertainty = 0;  // with curvature; equal to u_c for a linear model; NaN where correlated
  double degrees = 0;                   // effective; infinite where nothing limits it
};

// `correlation`: empty for none, else symmetric with ones on the diagonal. Throws InputError on inputs that cannot
// be.
UncertaintyBudget propagate(const Model& model, const std::vector<UncertainInput>& inputs,
                            const Matrix& correlation = {});

struct MonteCarloResult {
  double mean = 0, standard_deviation = 0;
  double lower = 0, upper = 0;  // probabilistically symmetric interval at `level`
  double level = 0.95;
  std::uint64_t seed = 0;
  long trials = 0;
};
// Inputs independent. The same seed gives the same numbers.
MonteCarloResult monte_carlo(const Model& model, const std::vector<UncertainInput>& inputs, long trials,
                             std::uint64_t seed, double level = 0.95);

}  // namespace evenbeam::math
