#pragma once
// Eigenvalues of a small real square matrix. Balanced first: rows against columns by powers of two, D^-1 A D, which
// moves no eigenvalue and loses no digit; without it servo matrices (entries from 1e-9 to 1e8) come out wrong in the
// first digit. Then the QR algorithm. Source: Parlett and Reinsch 1969; Golub and Van Loan, ch. 7.
#include <complex>
#include <vector>

#include "math/matrix.h"

namespace evenbeam::math {

// Sorted by real, then imaginary part. Empty where an entry is not finite or the iteration does not converge.
std::vector<std::complex<double>> eigenvalues(const Matrix& a);
double spectral_radius(const Matrix& a);  // NaN where there are none

}  // namespace evenbeam::math
