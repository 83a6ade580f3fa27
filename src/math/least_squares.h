#pragma once
// Weighted linear least squares:  minimise sum_i w_i (y_i - sum_j A_ij x_j)^2.
//   A sqrt(w) scaled by powers of two to columns of like length, then Householder QR with column pivoting; the answer
//   is refined on the augmented system [I A; A' 0] [r; x] = [y; 0] with residuals in double-double.
//   covariance = (A'WA)^-1 s^2,  s^2 = sum w r^2 / (rows - columns).
// How many digits hold: the rounding of A and y (relative, up to e = `entry_error` each) moves x_i by at most
//   |dx_i| <= e ( |A+_i| (sum_j |A_j||x_j| + |y|) + sum_j |(A'A)^-1_ij| |A_j| |r| )   in 2-norms.
// Roundings of m rows are taken as independent, uniform in +-e: four standard deviations are min(1, 4/sqrt(3 m)) of
// that. The solver's own error (the last refinement step) is added whole. An answer whose digits do not hold is
// refused: the coefficients stay NaN and `reason` says which columns cannot be told apart.
// Sources: Golub and Van Loan, Matrix Computations, ch. 5; Bjorck 1967 (refinement); Higham, Accuracy and Stability,
// ch. 20 (perturbation bound).
#include <limits>
#include <span>
#include <string>
#include <vector>

#include "math/matrix.h"

namespace evenbeam::math {

enum class FitState {
  not_done,
  solved,
  not_finite,    // NaN or infinity in the input
  too_few_rows,  // fewer rows with weight than columns
  cannot_tell,   // columns dependent to working precision: `weak_coefficients` names them
  digits_lost,   // the digits asked for do not hold
};

struct LeastSquaresOptions {
  double needed_error = 1e-6;    // largest numerical error allowed, relative to max(|x_i|, its standard
                                 // error); a coefficient may also be zero to 1e-12 of the data
  double entry_error = 0x1p-53;  // relative rounding in A and y; 0 where all entries are exact
  bool known_variance = false;   // true: w_i = 1/variance_i, so s^2 = 1 in the covariance
};

struct LeastSquaresResult {
  FitState state = FitState::not_done;
  std::string reason;                                                         // in words, where not solved
  std::vector<double> coefficients;                                           // x; NaN where not solved
  std::vector<double> standard_errors;                                        // sqrt of the covariance's diagonal
  Matrix covariance;                                                          // of the coefficients
  double residual_sd = std::numeric_limits<double>::quiet_NaN();              // s; NaN where degrees_of_freedom is 0
  double residual_sum_of_squares = std::numeric_limits<double>::quiet_NaN();  // weighted
  double r_squared = std::numeric_limits<double>::quiet_NaN();  // about the weighted mean where a column is constant,
                                                                // else about zero
  long degrees_of_freedom = 0;                                  // rows with weight - columns
  double scaled_condition = std::numeric_limits<double>::infinity();  // of the column-scaled matrix, 2-norm
  std::vector<std::size_t> weak_coefficients;  // those taking part in the direction known worst
  std::vector<double> weak_direction;          // that direction in coefficient units (multiples of it hardly change
                                               // the fit), largest scaled entry 1
  std::vector<double> numerical_errors;        // estimated error of each coefficient from rounding, see above
  double trusted_digits = 0;                   // of the worst coefficient, relative as in needed_error
};

// `weights` empty: all 1. Weights >= 0; a row with weight 0 is left out.
LeastSquaresResult solve_least_squares(const Matrix& a, std::span<const double> y,
                                       std::span<const double> weights = {}, const LeastSquaresOptions& options = {});

// Tall problems in bounded memory: blocks of rows are folded into the triangle R of [A y] by Householder QR; the
// normal equations are never formed. No refinement, so the digits asked for end earlier than above.
// The class keeps R triangular and the sums that go with it together.
class RowFolder {
 public:
  explicit RowFolder(std::size_t columns);
  // One row: columns() numbers, its right side and weight. Not-finite rows are counted and make solve() refuse.
  void add(std::span<const double> row, double y, double weight = 1.0);
  LeastSquaresResult solve(const LeastSquaresOptions& options = {});
  std::size_t columns() const { return columns_; }
  long rows() const { return rows_; }

 private:
  void fold();
  std::size_t columns_;
  std::size_t pending_ = 0;  // rows waiting in block_
  Matrix block_;             // upper part: triangle so far; below: rows waiting; last column: right side
  long rows_ = 0, bad_rows_ = 0;
  double weight_sum_ = 0, mean_ = 0, spread_ = 0;  // running weighted mean and sum of squares of y about it
  std::vector<double> lowest_, highest_;           // of each column, to find the constant one
};

}  // namespace evenbeam::math
