#include "tuning/certificate_joint.h"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

namespace evenbeam::tuning {
namespace {

constexpr int kRounds = 2;       // towards the fixed point; any P is right, a better one is tighter
constexpr double kFloor = 1e-3;  // of a unit matrix, so that P stays regular

// At least the largest eigenvalue of a matrix whose eigenvalues are real and not negative: the fourth root of the
// trace of its fourth power.
double at_least_largest(const Inverse& m) {
  const Inverse square = m * m;
  const double trace = (square * square).trace().real();
  return std::sqrt(std::sqrt(std::max(0.0, trace))) * (1 + 1e-9);
}

// A complex matrix times a real one: both parts at once as one real product.
Eigen::MatrixXcd times(const Eigen::MatrixXcd& a, const Eigen::MatrixXd& b) {
  Eigen::MatrixXcd out(a.rows(), b.cols());
  const Eigen::Map<const Eigen::MatrixXd> parts(reinterpret_cast<const double*>(a.data()), 2 * a.rows(), a.cols());
  Eigen::Map<Eigen::MatrixXd>(reinterpret_cast<double*>(out.data()), 2 * a.rows(), b.cols()).noalias() = parts * b;
  return out;
}

// `by`: a row for each; what all of them are made of: the columns of `basis`, each times its entry of the row.
Fans fans_of(const Eigen::MatrixXcd& basis, const Eigen::MatrixXcd& by, const Eigen::MatrixXd& along,
             bool conjugate) {
  const Eigen::Index d = basis.rows(), count = by.rows();
  Eigen::MatrixXcd each(d * count, basis.cols());
  for (Eigen::Index i = 0; i < basis.cols(); ++i)
    for (Eigen::Index k = 0; k < count; ++k) each.col(i).segment(k * d, d) = by(k, i) * basis.col(i);
  const Eigen::MatrixXcd all = times(each, along);
  Fans out{Eigen::MatrixXcd(d, d * count), Sizes(count)};
  for (Eigen::Index k = 0; k < count; ++k) {
    const auto fan = all.middleRows(k * d, d);
    auto square = out.squares.middleCols(k * d, d);
    if (conjugate)
      square.noalias() = fan.conjugate() * fan.transpose();
    else
      square.noalias() = fan * fan.adjoint();
    out.size(k) = std::sqrt(at_least_largest(square));
  }
  return out;
}

}  // namespace

std::optional<JointPart> JointPart::of(const BoxModel& m, const Inverse& inverse, const Eigen::MatrixXd& along) {
  JointPart out;
  const auto q = static_cast<Eigen::Index>(m.joint.size()), n = static_cast<Eigen::Index>(m.unknowns), d = n - 2;
  if (q == 0) return out;
  out.moved_.resize(n, q), out.seen_.resize(q, n), out.along_.resize(q, along.cols());
  for (Eigen::Index i = 0; i < q; ++i) {
    const JointSpot& s = m.joint[static_cast<size_t>(i)];
    out.moved_.col(i) = inverse * s.u.head(n);
    out.seen_.row(i) = s.v.head(n).transpose();
    out.along_.row(i) = along.row(s.index);
  }
  out.spread_ = out.along_ * out.along_.transpose();
  // Coordinates brought to size by what the doubts move in them.
  Eigen::Matrix<double, Eigen::Dynamic, 1, 0, most_unknowns, 1> size(d);
  for (Eigen::Index j = 0; j < d; ++j) size(j) = std::sqrt(out.moved_.row(j).cwiseAbs2().dot(out.spread_.diagonal()));
  const double largest = size.maxCoeff();
  if (!std::isfinite(largest)) return std::nullopt;
  if (!(largest > 0)) return JointPart{};
  for (double& s : size) s = s > 0 ? s : 1;
  const Wide moved = size.cwiseInverse().cast<Complex>().asDiagonal() * out.moved_.topRows(d);
  const Tall seen = out.seen_.leftCols(d) * size.cast<Complex>().asDiagonal();
  using Joint = Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, most_joint, most_joint>;
  const auto map = [&](const Inverse& p) -> Inverse {
    const Wide left = p * moved;
    const Joint inner = Joint(moved.adjoint() * left).cwiseProduct(out.spread_.cast<Complex>());
    const Tall right = inner * seen;
    const Inverse f = seen.adjoint() * right;
    return (f + Inverse(f.adjoint())) / 2.0;
  };
  Inverse p = Inverse::Identity(d, d), next = map(p);
  for (int i = 0; i < kRounds; ++i) {
    const double trace = next.trace().real() / static_cast<double>(d);
    if (!(trace > 0) || !std::isfinite(trace)) return std::nullopt;
    p = next / trace + kFloor * Inverse::Identity(d, d);
    next = map(p);
  }
  const Eigen::LLT<Inverse> root(p);
  if (root.info() != Eigen::Success) return std::nullopt;
  const Inverse half = root.matrixL().solve(next), whole = root.matrixL().solve(Inverse(half.adjoint()));
  const Eigen::SelfAdjointEigenSolver<Inverse> solver(whole, Eigen::EigenvaluesOnly);
  if (solver.info() != Eigen::Success) return std::nullopt;
  out.contraction_ = std::sqrt(std::max(0.0, solver.eigenvalues().maxCoeff()));
  const Inverse upper = root.matrixU(), back = Inverse(root.matrixL().solve(Inverse::Identity(d, d))).adjoint();
  out.root_ = upper * size.cwiseInverse().cast<Complex>().asDiagonal();
  out.moved_here_ = upper * moved;
  out.seen_here_ = seen * back;
  return out;
}

Sizes JointPart::size(const Columns& x) const {
  return (root_ * x.topRows(root_.rows())).colwise().norm().transpose();
}

Fans JointPart::rows(const Lines& a) const { return fans_of(seen_here_.transpose(), a * moved_, along_, true); }

Fans JointPart::columns(const Columns& x) const {
  return fans_of(moved_here_, (seen_ * x).transpose(), along_, false);
}

Values JointPart::once(const Fans& rows, const Columns& x) const {
  const Columns here = root_ * x.topRows(root_.rows());
  const Eigen::Index d = here.rows();
  Values out(rows.size.size(), x.cols());
  for (Eigen::Index r = 0; r < out.rows(); ++r) {
    const Columns there = rows.squares.middleCols(r * d, d) * here;
    out.row(r) = there.cwiseProduct(here.conjugate()).real().colwise().sum().cwiseMax(0).cwiseSqrt();
  }
  return out;
}

// The quadratic form c' Q c, Q_kl = (a^T J_k)(J_l x): at most the largest singular value of Q.
Values JointPart::twice(const Fans& rows, const Fans& columns) const {
  Values out(rows.size.size(), columns.size.size());
  const Eigen::Index d = rows.squares.rows();
  for (Eigen::Index r = 0; r < out.rows(); ++r)
    for (Eigen::Index k = 0; k < out.cols(); ++k)
      out(r, k) =
          std::sqrt(at_least_largest(columns.squares.middleCols(k * d, d) * rows.squares.middleCols(r * d, d)));
  return out;
}

std::vector<Eigen::Matrix4cd> JointPart::first_order(const Lines& a, const Answer& x) const {
  std::vector<Eigen::Matrix4cd> out;
  for (Eigen::Index i = 0; i < moved_.cols(); ++i) out.emplace_back(-(a * moved_.col(i)) * (seen_.row(i) * x));
  return out;
}

}  // namespace evenbeam::tuning
