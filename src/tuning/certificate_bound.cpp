#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <limits>

#include "tuning/certificate_box.h"

namespace evenbeam::tuning {
namespace {

using Complex = std::complex<double>;
constexpr double kInfinite = std::numeric_limits<double>::infinity();

constexpr int kMost = most_spots + 2 * most_unknowns;
using Values = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMost, kMost>;
using Answers = Eigen::Matrix<double, Eigen::Dynamic, 4, 0, kMost, 4>;

// A bound of start + step + reach step + reach^2 step + ..., entry by entry; nullopt where the sum was not seen to
// converge. Increments obey d' = reach d; once d' <= q d in every entry, q < 1, they do so for ever and the rest is
// at most d q/(1-q).
std::optional<Answers> bounded(const Values& reach, const Answers& start, Answers step) {
  constexpr int kSteps = 60;
  constexpr double kRest = 2e-3;  // of the sum, small enough not to matter
  Answers z = start + step;
  for (int i = 0; i < kSteps; ++i) {
    const Answers next = reach * step;
    double ratio = 0;
    for (Eigen::Index k = 0; k < next.size(); ++k)
      if (next.data()[k] > 0) ratio = std::max(ratio, next.data()[k] / step.data()[k]);
    z += next;
    step = next;
    if (!z.allFinite() || (i > 20 && ratio > 1)) return std::nullopt;
    if (!(ratio < 0.999)) continue;
    const Answers rest = step * (ratio / (1 - ratio));
    if ((rest.array() <= kRest * z.array()).all()) return (1 + 1e-9) * (z + rest);
  }
  return std::nullopt;
}

using Inverse = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_unknowns, most_unknowns>;

// Rows and columns brought to size first: they mix newtons, metres and integrals.
std::optional<Inverse> inverse_of(Inverse t) {
  const Eigen::Index n = t.rows();
  Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_unknowns, 1> column(n), row(n);
  for (Eigen::Index k = 0; k < n; ++k) column(k) = 1 / std::max(1e-300, t.col(k).cwiseAbs().maxCoeff());
  t = t * column.cast<Complex>().asDiagonal();
  for (Eigen::Index k = 0; k < n; ++k) row(k) = 1 / std::max(1e-300, t.row(k).cwiseAbs().maxCoeff());
  t = row.cast<Complex>().asDiagonal() * t;
  const Inverse out = column.cast<Complex>().asDiagonal() * Inverse(t.inverse()) * row.cast<Complex>().asDiagonal();
  if (!out.allFinite()) return std::nullopt;
  return out;
}

double with_doubt(const Eigen::Matrix2cd& s, const Eigen::Matrix2d& off) {
  const double sum = s.squaredNorm(), product = std::abs(s.determinant()), half = sum / 2;
  return std::sqrt(half + std::sqrt(std::max(0.0, half * half - product * product))) + off.norm();
}

}  // namespace

double sensitivity_bound(const BoxModel& m, double peak_a, double peak_b) {
  const int n = m.unknowns, q = m.coordinates, va = q, vb = q + 1, im = q + 2, is = q + 3;
  const auto spots = static_cast<Eigen::Index>(m.spots.size());
  const Eigen::Index ramps = 2 * n, r = ramps + spots;
  using Wide = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_unknowns, kMost>;
  const std::optional<Inverse> found = inverse_of(m.middle.topLeftCorner(n, n));
  if (!found) return kInfinite;
  const Inverse& inverse = *found;
  // Ramps over the box (frequency, place), each one number with a whole matrix, then the spots.
  Wide u(n, r);
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, kMost, most_unknowns> v(r, n);
  v.setZero();
  u.leftCols(n) = m.by_frequency.topLeftCorner(n, n);
  u.middleCols(n, n) = m.by_place.topLeftCorner(n, n);
  for (int k = 0; k < n; ++k) v(k, k) = v(n + k, k) = 1;
  for (Eigen::Index k = 0; k < spots; ++k) {
    const Spot& s = m.spots[static_cast<size_t>(k)];
    u.col(ramps + k) = (s.radius * s.u.head(n)).cast<Complex>();
    v.row(ramps + k) = s.v.head(n).transpose();
  }
  // Right sides: a disturbance of each reading (through mean and skew), then of each motor's input.
  Eigen::Matrix<Complex, Eigen::Dynamic, 4, 0, most_unknowns, 4> x(n, 4);
  x.col(0) = -0.5 * inverse.col(im) - inverse.col(is);
  x.col(1) = -0.5 * inverse.col(im) + inverse.col(is);
  x.col(2) = inverse.col(va);
  x.col(3) = inverse.col(vb);
  const Wide moved = inverse * u;
  const auto by_frequency = (moved.leftCols(n) * x).eval(), by_place = (moved.middleCols(n, n) * x).eval();
  const auto vc = v.cast<Complex>();
  const Values reach = (vc * moved).cwiseAbs();
  const Answers start = (vc * x).cwiseAbs();
  Answers step = (vc * by_frequency).cwiseAbs() + (vc * by_place).cwiseAbs();
  step += reach.rightCols(spots) * start.bottomRows(spots);
  const std::optional<Answers> z = bounded(reach, start, step);
  if (!z) return kInfinite;
  // What is read off: both readings, both motor inputs, the bending.
  Eigen::Matrix<Complex, 5, Eigen::Dynamic, 0, 5, most_unknowns> out(5, n);
  out.setZero();
  out.row(0) = m.read_a.head(n).transpose().cast<Complex>();
  out.row(1) = m.read_b.head(n).transpose().cast<Complex>();
  out(2, va) = out(3, vb) = 1;
  if (m.bending >= 0) out(4, m.bending) = 1;
  using Seen = Eigen::Matrix<Complex, 5, 4>;
  const Seen seen = out * x, ramp_frequency = out * by_frequency, ramp_place = out * by_place;
  const Eigen::Matrix<double, 5, Eigen::Dynamic, 0, 5, kMost> per = (out * moved).cwiseAbs();
  const Eigen::Matrix<double, 5, 4> rest =
      per.leftCols(ramps) * (*z - start).topRows(ramps) + per.rightCols(spots) * z->bottomRows(spots);
  const Eigen::Matrix<double, 5, 4> off = rest + ramp_frequency.cwiseAbs() + ramp_place.cwiseAbs();
  Eigen::Matrix2d output_off = rest.topLeftCorner(2, 2), input_off = rest.block(2, 2, 2, 2);
  for (int k = 0; k < 2; ++k)
    output_off.col(k).array() += m.read_bending_radius * (std::abs(seen(4, k)) + off(4, k)) +
                                 m.folded * (std::abs(seen(2, k)) + off(2, k) + std::abs(seen(3, k)) + off(3, k));
  const double ratio = peak_b / peak_a;
  input_off(0, 1) *= ratio, input_off(1, 0) /= ratio;
  // To first order S is its middle plus both ramps, and the largest singular value is convex in them: its greatest
  // lies at a corner.
  double most = 0;
  for (double t : {-1.0, 1.0})
    for (double s : {-1.0, 1.0}) {
      const Seen there = seen - t * ramp_frequency - s * ramp_place;
      Eigen::Matrix2cd input = there.block(2, 2, 2, 2);
      input(0, 1) *= ratio, input(1, 0) /= ratio;
      most = std::max({most, with_doubt(Eigen::Matrix2cd::Identity() + there.topLeftCorner(2, 2), output_off),
                       with_doubt(input, input_off)});
    }
  return most;
}

}  // namespace evenbeam::tuning
