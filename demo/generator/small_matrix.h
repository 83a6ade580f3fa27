#pragma once
// The little linear algebra the generator needs, written out so that it shares nothing with the program it tests:
// product, inverse, exponential and symmetric eigenvalues of matrices whose size is known when compiled.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

namespace generator {

template <std::size_t Rows, std::size_t Columns>
struct Matrix {
  std::array<double, Rows * Columns> v{};
  double& operator()(std::size_t r, std::size_t c) { return v[r * Columns + c]; }
  double operator()(std::size_t r, std::size_t c) const { return v[r * Columns + c]; }
};

template <std::size_t N>
Matrix<N, N> identity() {
  Matrix<N, N> m;
  for (std::size_t i = 0; i < N; ++i) m(i, i) = 1;
  return m;
}

template <std::size_t R, std::size_t K, std::size_t C>
Matrix<R, C> product(const Matrix<R, K>& a, const Matrix<K, C>& b) {
  Matrix<R, C> m;
  for (std::size_t r = 0; r < R; ++r)
    for (std::size_t k = 0; k < K; ++k)
      for (std::size_t c = 0; c < C; ++c) m(r, c) += a(r, k) * b(k, c);
  return m;
}

// Gauss-Jordan with partial pivoting; the matrices inverted here are mass matrices, well away from singular.
template <std::size_t N>
Matrix<N, N> inverse(Matrix<N, N> a) {
  Matrix<N, N> out = identity<N>();
  for (std::size_t c = 0; c < N; ++c) {
    std::size_t pivot = c;
    for (std::size_t r = c + 1; r < N; ++r)
      if (std::abs(a(r, c)) > std::abs(a(pivot, c))) pivot = r;
    for (std::size_t k = 0; k < N; ++k) {
      std::swap(a(c, k), a(pivot, k));
      std::swap(out(c, k), out(pivot, k));
    }
    const double scale = 1 / a(c, c);
    for (std::size_t k = 0; k < N; ++k) a(c, k) *= scale, out(c, k) *= scale;
    for (std::size_t r = 0; r < N; ++r) {
      const double factor = a(r, c);
      if (r == c || factor == 0) continue;
      for (std::size_t k = 0; k < N; ++k) a(r, k) -= factor * a(c, k), out(r, k) -= factor * out(c, k);
    }
  }
  return out;
}

// exp(A) by scaling to norm <= 1/16, 12 terms of the series (remainder < 1e-24) and squaring back.
template <std::size_t N>
Matrix<N, N> exponential(Matrix<N, N> a) {
  double norm = 0;
  for (std::size_t r = 0; r < N; ++r) {
    double row = 0;
    for (std::size_t c = 0; c < N; ++c) row += std::abs(a(r, c));
    norm = std::max(norm, row);
  }
  int squarings = 0;
  for (; norm > 0.0625; norm /= 2) ++squarings;
  for (double& x : a.v) x = std::ldexp(x, -squarings);
  Matrix<N, N> sum = identity<N>(), term = identity<N>();
  for (int k = 1; k <= 12; ++k) {
    term = product(term, a);
    for (double& x : term.v) x /= k;
    for (std::size_t i = 0; i < N * N; ++i) sum.v[i] += term.v[i];
  }
  for (int k = 0; k < squarings; ++k) sum = product(sum, sum);
  return sum;
}

// Eigenvalues, ascending, of K v = lambda M v: both symmetric, M positive definite. K is brought to L^-1 K L^-T
// with M = L L^T, then cyclic Jacobi rotations.
template <std::size_t N>
std::array<double, N> symmetric_eigenvalues(Matrix<N, N> stiffness, Matrix<N, N> mass) {
  Matrix<N, N> lower;
  for (std::size_t r = 0; r < N; ++r)
    for (std::size_t c = 0; c <= r; ++c) {
      double s = mass(r, c);
      for (std::size_t k = 0; k < c; ++k) s -= lower(r, k) * lower(c, k);
      lower(r, c) = r == c ? std::sqrt(s) : s / lower(c, c);
    }
  const Matrix<N, N> li = inverse(lower);
  Matrix<N, N> transposed;
  for (std::size_t r = 0; r < N; ++r)
    for (std::size_t c = 0; c < N; ++c) transposed(r, c) = li(c, r);
  Matrix<N, N> a = product(product(li, stiffness), transposed);
  for (int sweep = 0; sweep < 30; ++sweep)
    for (std::size_t p = 0; p < N; ++p)
      for (std::size_t q = p + 1; q < N; ++q) {
        if (a(p, q) == 0) continue;
        const double angle = 0.5 * std::atan2(2 * a(p, q), a(q, q) - a(p, p));
        const double c = std::cos(angle), s = std::sin(angle);
        for (std::size_t k = 0; k < N; ++k) {
          const double kp = a(k, p), kq = a(k, q);
          a(k, p) = c * kp - s * kq, a(k, q) = s * kp + c * kq;
        }
        for (std::size_t k = 0; k < N; ++k) {
          const double pk = a(p, k), qk = a(q, k);
          a(p, k) = c * pk - s * qk, a(q, k) = s * pk + c * qk;
        }
      }
  std::array<double, N> values;
  for (std::size_t i = 0; i < N; ++i) values[i] = a(i, i);
  for (std::size_t i = 1; i < N; ++i)
    for (std::size_t k = i; k > 0 && values[k] < values[k - 1]; --k) std::swap(values[k], values[k - 1]);
  return values;
}

}  // namespace generator
