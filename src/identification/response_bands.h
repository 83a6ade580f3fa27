#pragma once
// How sure a frequency response is, entry by entry, seen by the sides (aa, ab, ba, bb: position per force, m/N) or as
// mean and skew (aa: x_m per f_m, ab: x_m per d, ba: s per f_m, bb: s per d; signal/frequency_response.h).
// To first order a complex error dG of G moves
//   ln|G| by Re(dG/G)  and  arg G by Im(dG/G).
// Measured: real and imaginary part share E|dG|^2 equally (circular), so both move by sqrt(E|dG|^2/2)/|G|.
// Model: dG = sum over parameters dG/dp dp, covariance C, so both follow from the real numbers Re and Im of
// (dG/dp)/G; what a lumped model lacks counts only as far as it spreads the parameters (block_covariance,
// grey_problem.h). Derived here.
#include <Eigen/Core>
#include <array>
#include <span>

#include "identification/grey_box_model.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

// Standard deviations of one line's entries.
struct ResponseSpread {
  std::array<double, 4> size{};       // of ln|G|, 1
  std::array<double, 4> phase_rad{};  // of arg G
};

Sides mean_and_skew(const Sides& g);  // the view of one line; linear, so it holds for errors and derivatives too

// `d`: dG/dp by parameter, as many as `covariance` has rows.
ResponseSpread model_spread(const Sides& g, std::span<const Sides> d, const Eigen::MatrixXd& covariance);
// `covariance` of the entries of g (of the hold's response taken out of both, or of none).
ResponseSpread measured_spread(const Sides& g, const signal::ResponseCovariance& covariance);

}  // namespace evenbeam::identification
