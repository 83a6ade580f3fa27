#include "tuning/line_slopes.h"

#include <algorithm>
#include <cmath>

#include "servo/law_response.h"

namespace evenbeam::tuning {
namespace {

using math::Complex;
using math::Complex2x2;
using math::times;

struct Pair {
  Complex a, b;
};
Pair operator*(const Complex2x2& m, const Pair& x) {
  return {times(m.aa, x.a) + times(m.ab, x.b), times(m.ba, x.a) + times(m.bb, x.b)};
}
Pair row(const Pair& x, const Complex2x2& m) {
  return {times(x.a, m.aa) + times(x.b, m.ba), times(x.a, m.ab) + times(x.b, m.bb)};
}
Complex dot(const Pair& x, const Pair& y) { return times(x.a, y.a) + times(x.b, y.b); }

// The loop at one line: both coordinates' parts of the law, the column that carries each to the sides and the row
// that reads it.
struct Line {
  const Complex2x2& g;
  Complex2x2 c;
  std::array<Pair, 2> left, right{Pair{1, 1}, Pair{1, -1}};
  double b_over_a = 1;  // peak forces

  explicit Line(const LoopLine& of)
      : g(of.g), left{Pair{of.share / 2, (1 - of.share) / 2}, Pair{1, -1}}, b_over_a(of.b_over_a) {
    const servo::SideResponse side = servo::combine(of.share, of.mean, of.skew);
    c = {side.aa, side.ab, side.ba, side.bb};
  }
};

constexpr Complex2x2 kOne{1, 0, 0, 1};

// ln of sigma_max(inverse of m)^2; `half_by`: slopes of half the squared Frobenius norm, `det_by` of ln det.
Sloped sensitivity(const Complex2x2& m, const std::array<Complex, 2>& half_by, const std::array<Complex, 2>& det_by) {
  const double half = 0.5 * (std::norm(m.aa) + std::norm(m.ab) + std::norm(m.ba) + std::norm(m.bb));
  const double square = std::norm(math::determinant(m));
  const double root = std::sqrt(std::max(half * half - square, 1e-24 * half * half));
  Sloped out{.value = std::log((half + root) / square)};
  for (size_t q = 0; q < 2; ++q) out.by[q] = half_by[q] / root - det_by[q] * (square / (root * (half + root)) + 2);
  return out;
}

// column row' against m, entry by entry: the slope of half m's squared Frobenius norm.
Complex norm_slope(const Complex2x2& m, const Pair& column, const Pair& across) {
  return times(std::conj(m.aa), times(column.a, across.a)) + times(std::conj(m.ab), times(column.a, across.b)) +
         times(std::conj(m.ba), times(column.b, across.a)) + times(std::conj(m.bb), times(column.b, across.b));
}

}  // namespace

LineSides sides_of(const LoopLine& of) {
  const Line line(of);
  const Complex2x2 outside = kOne + line.g * line.c, moves = math::inverse(outside) * line.g;
  Complex2x2 inside = kOne + line.c * line.g;
  const double ratio = line.b_over_a;
  inside.ab *= ratio, inside.ba /= ratio;
  std::array<Complex, 2> half_out, half_in, det;
  for (size_t q = 0; q < 2; ++q) {
    const Pair &left = line.left[q], &right = line.right[q], r_g = row(right, line.g);
    det[q] = dot(right, moves * left);
    half_out[q] = norm_slope(outside, line.g * left, right);
    half_in[q] = norm_slope(inside, {left.a, left.b / ratio}, {r_g.a, r_g.b * ratio});
  }
  return {sensitivity(outside, half_out, det), sensitivity(inside, half_in, det)};
}

LineEnergies energies_of(const LoopLine& of, const SearchLimits& limits) {
  const Line line(of);
  const Complex2x2 sensitivity_of = math::inverse(kOne + line.g * line.c), moves = sensitivity_of * line.g;
  const Complex2x2 forces = line.c * sensitivity_of, rest = kOne - line.c * moves;
  const Complex skew_moves = moves.aa - moves.ab - moves.ba + moves.bb;
  const Complex mean_moves = (moves.aa + moves.ab + moves.ba + moves.bb) / 4.0;
  const double qa = limits.count_a_m * limits.count_a_m / 12, qb = limits.count_b_m * limits.count_b_m / 12;
  LineEnergies out;
  for (size_t q = 0; q < 2; ++q) {
    const Pair &left = line.left[q], &right = line.right[q];
    const Pair t_left = moves * left, r_t = row(right, moves), r_z = row(right, sensitivity_of), pushed = rest * left;
    out.skew.by[q] = -2.0 * times(std::conj(skew_moves), times(t_left.a - t_left.b, r_t.a - r_t.b));
    out.mean.by[q] = -0.5 * times(std::conj(mean_moves), times(t_left.a + t_left.b, r_t.a + r_t.b));
    out.noise_a.by[q] =
        2.0 * times(pushed.a, qa * times(std::conj(forces.aa), r_z.a) + qb * times(std::conj(forces.ab), r_z.b));
    out.noise_b.by[q] =
        2.0 * times(pushed.b, qa * times(std::conj(forces.ba), r_z.a) + qb * times(std::conj(forces.bb), r_z.b));
  }
  out.skew.value = std::norm(skew_moves), out.mean.value = std::norm(mean_moves);
  out.noise_a.value = std::norm(forces.aa) * qa + std::norm(forces.ab) * qb;
  out.noise_b.value = std::norm(forces.ba) * qa + std::norm(forces.bb) * qb;
  return out;
}

}  // namespace evenbeam::tuning
