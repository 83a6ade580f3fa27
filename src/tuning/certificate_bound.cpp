#include <Eigen/LU>
#include <Eigen/SVD>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "tuning/certificate_joint.h"

namespace evenbeam::tuning {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

using Answers = Eigen::Matrix<double, Eigen::Dynamic, 4, 0, most_rows, 4>;
using Seen = Eigen::Matrix4cd;  // both readings, both motor inputs
using SeenOff = Eigen::Matrix4d;

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

// Greatest |from + sum_i g_i off_i| over the joint doubt, `spread` the covariance of the off_i: along `from` and
// across it each have a greatest value of their own.
double farthest(Complex from, const Eigen::VectorXcd& g, const Eigen::MatrixXd& spread) {
  const Complex turn = std::abs(from) > 0 ? std::conj(from) / std::abs(from) : Complex(1);
  const Eigen::VectorXd along = (turn * g).real(), across = (turn * g).imag();
  const auto most = [&](const Eigen::VectorXd& x) { return std::sqrt(std::max(0.0, x.dot(spread * x))); };
  return std::hypot(std::abs(from) + most(along), most(across));
}

// Greatest singular value of s + sum_i off_i by[i] + rest, the entries of rest at most `off`: in the basis in which s
// is diagonal a matrix is at most that of the greatest sizes of its entries.
double with_doubt(const Eigen::Matrix2cd& s, const std::vector<Eigen::Matrix2cd>& by, const Eigen::MatrixXd& spread,
                  const Eigen::Matrix2d& off) {
  const Eigen::JacobiSVD<Eigen::Matrix2cd> basis(s, Eigen::ComputeFullU | Eigen::ComputeFullV);
  if (by.empty()) return basis.singularValues()(0) + off.norm();
  Eigen::VectorXcd g[4];
  for (auto& x : g) x.resize(static_cast<Eigen::Index>(by.size()));
  for (size_t i = 0; i < by.size(); ++i) {
    const Eigen::Matrix2cd turned = basis.matrixU().adjoint() * by[i] * basis.matrixV();
    for (int k = 0; k < 4; ++k) g[k](static_cast<Eigen::Index>(i)) = turned.data()[k];
  }
  Eigen::Matrix2d most;
  for (int k = 0; k < 4; ++k)
    most.data()[k] = farthest(k == 0   ? basis.singularValues()(0)
                              : k == 3 ? basis.singularValues()(1)
                                       : 0,
                              g[k], spread);
  const double half = most.squaredNorm() / 2, product = std::abs(most.determinant());
  return std::sqrt(half + std::sqrt(std::max(0.0, half * half - product * product))) + off.norm();
}

// The rows of both ramps are the same: asked once.
Fans twice_the_first(Fans f, int n) {
  const Eigen::Index d = f.squares.rows();
  Eigen::MatrixXcd squares(d, f.squares.cols() + n * d);
  squares << f.squares.leftCols(n * d), f.squares;
  Sizes size(f.size.size() + n);
  size << f.size.head(n), f.size;
  f = {squares, size};
  return f;
}

// Everything of one box's solution that both sensitivities are read from.
struct Solution {
  Seen seen, ramp_frequency, ramp_place;
  std::vector<Seen> by;    // joint, first order
  Eigen::MatrixXd spread;  // of those
  SeenOff rest, off;       // beyond first order; all together
};

std::optional<Solution> solved(const BoxModel& m, const Eigen::MatrixXd& along) {
  const int n = m.unknowns, q = m.coordinates, va = q, vb = q + 1, im = q + 2, is = q + 3;
  const auto spots = static_cast<Eigen::Index>(m.spots.size());
  const Eigen::Index ramps = 2 * n, r = ramps + spots;
  const std::optional<Inverse> found = inverse_of(m.middle.topLeftCorner(n, n));
  if (!found) return std::nullopt;
  const Inverse& inverse = *found;
  const std::optional<JointPart> joint = JointPart::of(m, inverse, along);
  if (!joint || !(joint->contraction() < 1)) return std::nullopt;
  // Ramps over the box (frequency, place), each one number with a whole matrix, then the spots.
  Columns u(n, r);
  Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, 0, most_rows, most_unknowns> v(r, n);
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
  Answer x(n, 4);
  x.col(0) = -0.5 * inverse.col(im) - inverse.col(is);
  x.col(1) = -0.5 * inverse.col(im) + inverse.col(is);
  x.col(2) = inverse.col(va);
  x.col(3) = inverse.col(vb);
  const Columns moved = inverse * u;
  const Answer by_frequency = moved.leftCols(n) * x, by_place = moved.middleCols(n, n) * x;
  const Lines vc = v.cast<Complex>();
  Lines out = Lines::Zero(4, n);
  out.row(0) = m.read_a.head(n).transpose().cast<Complex>();
  out.row(1) = m.read_b.head(n).transpose().cast<Complex>();
  out(2, va) = out(3, vb) = 1;

  Values reach = (vc * moved).cwiseAbs(), per = (out * moved).cwiseAbs();
  Answers start = (vc * x).cwiseAbs(), step = (vc * by_frequency).cwiseAbs() + (vc * by_place).cwiseAbs();
  Solution s{out * x, out * by_frequency, out * by_place, {}, {}, SeenOff::Zero(), SeenOff::Zero()};
  if (joint->any()) {
    // T_c, one plant of the doubt in the middle of the box, has the inverse A_c = (1 + J)^-1 A with
    //   |a A_c u - a A u| <= |a J A u| + row_size(a) gain |J A u|_P,   gain = 1/(1 - contraction)
    const double gain = 1 / (1 - joint->contraction());
    const Fans rows = twice_the_first(joint->rows(vc.bottomRows(r - n)), n), out_rows = joint->rows(out),
               solved = joint->columns(x);
    const Fans by_frequency_fans = joint->columns(by_frequency), by_place_fans = joint->columns(by_place);
    const auto differs = [&](const Fans& a, const Answer& of, const Fans& fans) -> Answers {
      return joint->once(a, of) + gain * a.size * fans.size.transpose();
    };
    const auto ramps_differ = [&](const Fans& a) -> Answers {
      return differs(a, by_frequency, by_frequency_fans) + differs(a, by_place, by_place_fans);
    };
    const Sizes columns = gain * joint->size(moved);  // the crude |J A u|_P <= |A u|_P, which here is enough
    reach += rows.size * columns.transpose(), per += out_rows.size * columns.transpose();
    const Answers first = differs(rows, x, solved);
    start += first;
    step += ramps_differ(rows) + reach.leftCols(ramps) * first.topRows(ramps);
    s.rest = joint->twice(out_rows, solved) + gain * joint->contraction() * out_rows.size * solved.size.transpose() +
             ramps_differ(out_rows) + per.leftCols(ramps) * first.topRows(ramps);
    s.off = differs(out_rows, x, solved);
    s.by = joint->first_order(out, x);
    s.spread = joint->spread();
  }
  step += reach.rightCols(spots) * start.bottomRows(spots);
  const std::optional<Answers> z = bounded(reach, start, step);
  if (!z) return std::nullopt;
  s.rest += per.leftCols(ramps) * (*z - start).topRows(ramps) + per.rightCols(spots) * z->bottomRows(spots);
  s.off += s.rest + s.ramp_frequency.cwiseAbs() + s.ramp_place.cwiseAbs();
  return s;
}

}  // namespace

double sensitivity_bound(const BoxModel& m, const Eigen::MatrixXd& along, double peak_a, double peak_b) {
  std::optional<Solution> found = solved(m, along);
  if (!found) return kInfinite;
  const Solution& s = *found;
  Eigen::Matrix2d output_off = s.rest.topLeftCorner(2, 2), input_off = s.rest.block(2, 2, 2, 2);
  for (int k = 0; k < 2; ++k)
    output_off.col(k).array() +=
        m.folded * (std::abs(s.seen(2, k)) + s.off(2, k) + std::abs(s.seen(3, k)) + s.off(3, k));
  const double ratio = peak_b / peak_a;
  const auto scaled = [&](auto input) {
    input(0, 1) *= ratio, input(1, 0) /= ratio;
    return input;
  };
  std::vector<Eigen::Matrix2cd> output_by, input_by;
  for (const Seen& y : s.by) {
    output_by.push_back(y.topLeftCorner(2, 2));
    input_by.push_back(scaled(Eigen::Matrix2cd(y.block(2, 2, 2, 2))));
  }
  // To first order S is its middle plus both ramps and the joint part, and the largest singular value is convex in
  // the ramps: its greatest lies at a corner.
  double most = 0;
  for (double t : {-1.0, 1.0})
    for (double p : {-1.0, 1.0}) {
      const Seen there = s.seen - t * s.ramp_frequency - p * s.ramp_place;
      const Eigen::Matrix2cd output = Eigen::Matrix2cd::Identity() + there.topLeftCorner(2, 2);
      const Eigen::Matrix2cd input = scaled(Eigen::Matrix2cd(there.block(2, 2, 2, 2)));
      most = std::max({most, with_doubt(output, output_by, s.spread, output_off),
                       with_doubt(input, input_by, s.spread, scaled(input_off))});
    }
  return most;
}

}  // namespace evenbeam::tuning
