#include <Eigen/LU>
#include <Eigen/SVD>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "base/check.h"
#include "tuning/certificate_joint.h"

namespace evenbeam::tuning {
namespace {

constexpr double kInfinite = std::numeric_limits<double>::infinity();

constexpr size_t kRamps = 3;  // frequency, place, payload
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

// Of a 2x2 matrix: both squares add to `square`, both multiply to `determinant`.
double largest_singular(double square, double determinant) {
  const double half = square / 2;
  return std::sqrt(half + std::sqrt(std::max(0.0, half * half - determinant * determinant)));
}

// Greatest singular value of s + sum_i off_i by[i] + rest, the entries of rest at most `off`: in the basis in which s
// is diagonal a matrix is at most that of the greatest sizes of its entries.
double with_doubt(const Eigen::Matrix2cd& s, const std::vector<Eigen::Matrix2cd>& by, const Eigen::MatrixXd& spread,
                  const Eigen::Matrix2d& off) {
  if (by.empty()) return largest_singular(s.squaredNorm(), std::abs(s.determinant())) + off.norm();
  const Eigen::JacobiSVD<Eigen::Matrix2cd> basis(s, Eigen::ComputeFullU | Eigen::ComputeFullV);
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
  return largest_singular(most.squaredNorm(), std::abs(most.determinant())) + off.norm();
}

// All that is asked of the unknowns: each unknown (the ramps' rows), then what the spots see. Spots that see the same
// share a row: what they add is bounded by the same number.
struct Asked {
  Lines rows;
  std::array<Eigen::Index, most_spots> of_spot{};
};

Asked asked_of(const BoxModel& m) {
  const int n = m.unknowns;
  Asked out;
  std::array<const Row*, most_spots> distinct{};
  std::array<Row, most_unknowns> units;
  for (int k = 0; k < n; ++k) units[static_cast<size_t>(k)] = Row::Unit(k);
  size_t others = 0;
  for (size_t i = 0; i < m.spots.size(); ++i) {
    const Row& v = m.spots[i].v;
    size_t row = 0;
    const auto unit = std::find(units.begin(), units.begin() + n, v);
    if (unit != units.begin() + n) {
      row = static_cast<size_t>(unit - units.begin());
    } else {
      const auto end = distinct.begin() + static_cast<std::ptrdiff_t>(others);
      const auto known = std::find_if(distinct.begin(), end, [&](const Row* d) { return *d == v; });
      row = static_cast<size_t>(n) + static_cast<size_t>(known - distinct.begin());
      if (known == end) distinct[others++] = &v;
    }
    out.of_spot[i] = static_cast<Eigen::Index>(row);
  }
  base::check(static_cast<size_t>(n) + others <= most_rows, "room for what spots see", {double(others)});
  out.rows.setZero(n + static_cast<Eigen::Index>(others), n);
  out.rows.topRows(n).setIdentity();
  for (size_t k = 0; k < others; ++k)
    out.rows.row(n + static_cast<Eigen::Index>(k)) = distinct[k]->head(n).transpose().cast<Complex>();
  return out;
}

// |x| of each entry; their squares neither overflow nor matter where they underflow.
template <typename Derived>
auto sizes_of(const Eigen::MatrixBase<Derived>& x) {
  return x.cwiseAbs2().cwiseSqrt();
}

// Everything of one box's solution that both sensitivities are read from.
struct Solution {
  Seen seen;
  std::array<Seen, kRamps> ramps;
  std::vector<Seen> by;                                   // joint, first order
  Eigen::MatrixXd spread;                                 // of those
  SeenOff rest = SeenOff::Zero(), off = SeenOff::Zero();  // beyond first order; all together
};

// What the columns of one kind (ramps, spots) add up to at each of the rows that see them.
struct Reach {
  Values rows;     // of Asked
  Values out;      // of both readings and both motor inputs
  Sizes in_joint;  // |A u|_P
};

std::optional<Solution> solved(const BoxModel& m, const Eigen::MatrixXd& along) {
  const int n = m.unknowns, q = m.coordinates, va = q, vb = q + 1, im = q + 2, is = q + 3;
  const std::optional<Inverse> found = inverse_of(m.middle.topLeftCorner(n, n));
  if (!found) return std::nullopt;
  const Inverse& inverse = *found;
  const std::optional<JointPart> joint = JointPart::of(m, inverse, along);
  if (!joint || !(joint->contraction() < 1)) return std::nullopt;
  const Asked asked = asked_of(m);
  const Lines& v = asked.rows;
  Lines out = Lines::Zero(4, n);
  out.row(0) = m.read_a.head(n).transpose().cast<Complex>();
  out.row(1) = m.read_b.head(n).transpose().cast<Complex>();
  out(2, va) = out(3, vb) = 1;
  // Right sides: a disturbance of each reading (through mean and skew), then of each motor's input.
  Answer x(n, 4);
  x.col(0) = -0.5 * inverse.col(im) - inverse.col(is);
  x.col(1) = -0.5 * inverse.col(im) + inverse.col(is);
  x.col(2) = inverse.col(va);
  x.col(3) = inverse.col(vb);
  // Ramps over the box, each one number with a whole matrix.
  const Square* const by[kRamps] = {&m.by_frequency, &m.by_place, &m.by_payload};
  Solution s{.seen = out * x};
  std::array<Answer, kRamps> by_ramp;
  Reach ramps{Values::Zero(v.rows(), v.rows()), Values::Zero(4, v.rows()), Sizes::Zero(v.rows())}, spots = ramps;
  Answers start = sizes_of(v * x), step = Answers::Zero(v.rows(), 4);
  for (size_t k = 0; k < kRamps; ++k) {
    const Inverse ramp = inverse * by[k]->topLeftCorner(n, n);
    by_ramp[k] = ramp * x;
    s.ramps[k] = out * by_ramp[k];
    step += sizes_of(v * by_ramp[k]);
    ramps.rows.leftCols(n) += sizes_of(v * ramp), ramps.out.leftCols(n) += sizes_of(out * ramp);
    if (joint->any()) ramps.in_joint.head(n) += joint->size(ramp);
  }
  Columns moved(n, static_cast<Eigen::Index>(m.spots.size()));
  for (Eigen::Index k = 0; k < moved.cols(); ++k) {
    const Spot& spot = m.spots[static_cast<size_t>(k)];
    moved.col(k).setZero();
    for (int i = 0; i < n; ++i)
      if (spot.u(i) != 0) moved.col(k) += (spot.radius * spot.u(i)) * inverse.col(i);
  }
  const Sizes in_joint = joint->any() ? joint->size(moved) : Sizes();
  for (Eigen::Index k = 0; k < moved.cols(); ++k) {
    const Eigen::Index at = asked.of_spot[static_cast<size_t>(k)];
    spots.rows.col(at) += sizes_of(v * moved.col(k)), spots.out.col(at) += sizes_of(out * moved.col(k));
    if (joint->any()) spots.in_joint(at) += in_joint(k);
  }
  if (joint->any()) {
    // T_c, one plant of the doubt in the middle of the box, has the inverse A_c = (1 + J)^-1 A with
    //   |a A_c u - a A u| <= |a J A u| + row_size(a) gain |J A u|_P,   gain = 1/(1 - contraction)
    const double gain = 1 / (1 - joint->contraction());
    const Fans rows = joint->rows(v), out_rows = joint->rows(out), solved = joint->columns(x);
    std::array<Fans, kRamps> ramp_fans;
    for (size_t k = 0; k < kRamps; ++k) ramp_fans[k] = joint->columns(by_ramp[k]);
    const auto differs = [&](const Fans& a, const Answer& of, const Fans& fans) -> Answers {
      return joint->once(a, of) + gain * a.size * fans.size.transpose();
    };
    const auto ramps_differ = [&](const Fans& a) -> Answers {
      Answers sum = Answers::Zero(a.size.size(), 4);
      for (size_t k = 0; k < kRamps; ++k) sum += differs(a, by_ramp[k], ramp_fans[k]);
      return sum;
    };
    for (Reach* r : {&ramps, &spots}) {  // the crude |J A u|_P <= |A u|_P, which here is enough
      r->rows += gain * rows.size * r->in_joint.transpose();
      r->out += gain * out_rows.size * r->in_joint.transpose();
    }
    const Answers first = differs(rows, x, solved);
    start += first;
    step += ramps_differ(rows) + ramps.rows * first;
    s.rest = joint->twice(out_rows, solved) + gain * joint->contraction() * out_rows.size * solved.size.transpose() +
             ramps_differ(out_rows) + ramps.out * first;
    s.off = differs(out_rows, x, solved);
    s.by = joint->first_order(out, x);
    s.spread = joint->spread();
  }
  step += spots.rows * start;
  const std::optional<Answers> z = bounded(ramps.rows + spots.rows, start, step);
  if (!z) return std::nullopt;
  s.rest += ramps.out * (*z - start) + spots.out * *z;
  s.off += s.rest;
  for (const Seen& ramp : s.ramps) s.off += ramp.cwiseAbs();
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
  // To first order S is its middle plus the ramps and the joint part, and the largest singular value is convex in
  // the ramps: its greatest lies at a corner.
  double most = 0;
  for (unsigned corner = 0; corner < 1U << kRamps; ++corner) {
    Seen there = s.seen;
    bool again = false;  // a ramp of nothing has one end
    for (size_t k = 0; k < kRamps; ++k) {
      const bool up = (corner >> k) % 2 == 1;
      again = again || (up && s.ramps[k].isZero(0));
      there += up ? s.ramps[k] : -s.ramps[k];
    }
    if (again) continue;
    const Eigen::Matrix2cd output = Eigen::Matrix2cd::Identity() + there.topLeftCorner(2, 2);
    const Eigen::Matrix2cd input = scaled(Eigen::Matrix2cd(there.block(2, 2, 2, 2)));
    most = std::max({most, with_doubt(output, output_by, s.spread, output_off),
                     with_doubt(input, input_by, s.spread, scaled(input_off))});
  }
  return most;
}

}  // namespace evenbeam::tuning
