#pragma once
// 2x2 complex matrices, row side first: ab is the answer of A to B. Real arithmetic by hand, since strict complex
// products are slow. Singular values in closed form:
//   s1^2 + s2^2 = |M|_F^2,  s1 s2 = |det M|;  the smaller as |det|/s1, so that it keeps its digits.
#include <array>
#include <cmath>
#include <complex>

namespace evenbeam::math {

using Complex = std::complex<double>;

inline Complex times(const Complex& a, const Complex& b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

struct Complex2x2 {
  Complex aa, ab, ba, bb;
};

inline Complex2x2 operator*(const Complex2x2& m, const Complex2x2& n) {
  return {times(m.aa, n.aa) + times(m.ab, n.ba), times(m.aa, n.ab) + times(m.ab, n.bb),
          times(m.ba, n.aa) + times(m.bb, n.ba), times(m.ba, n.ab) + times(m.bb, n.bb)};
}
inline Complex2x2 operator+(const Complex2x2& m, const Complex2x2& n) {
  return {m.aa + n.aa, m.ab + n.ab, m.ba + n.ba, m.bb + n.bb};
}
inline Complex2x2 operator-(const Complex2x2& m, const Complex2x2& n) {
  return {m.aa - n.aa, m.ab - n.ab, m.ba - n.ba, m.bb - n.bb};
}
inline Complex2x2 scaled(const Complex2x2& m, const Complex& by) {
  return {times(m.aa, by), times(m.ab, by), times(m.ba, by), times(m.bb, by)};
}
// Conjugate transpose.
inline Complex2x2 adjoint(const Complex2x2& m) {
  return {std::conj(m.aa), std::conj(m.ba), std::conj(m.ab), std::conj(m.bb)};
}
inline Complex determinant(const Complex2x2& m) { return times(m.aa, m.bb) - times(m.ab, m.ba); }
// Of a singular matrix: entries not finite; judge with singular_values first.
inline Complex2x2 inverse(const Complex2x2& m) {
  const Complex by = 1.0 / determinant(m);
  return {times(m.bb, by), -times(m.ab, by), -times(m.ba, by), times(m.aa, by)};
}
// Largest first.
inline std::array<double, 2> singular_values(const Complex2x2& m) {
  const double sum = std::norm(m.aa) + std::norm(m.ab) + std::norm(m.ba) + std::norm(m.bb);
  const double product = std::abs(determinant(m));
  const double half = 0.5 * sum, root = std::sqrt(std::max(half * half - product * product, 0.0));
  const double largest = std::sqrt(half + root);
  return {largest, largest > 0 ? product / largest : 0.0};
}

}  // namespace evenbeam::math
