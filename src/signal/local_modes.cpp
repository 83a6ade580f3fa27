#include "signal/local_modes.h"

#include <fmt/format.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <Eigen/QR>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace evenbeam::signal {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::VectorXcd;
using math::Complex;

constexpr double kWidth = 8, kLeastWidth = 0.08, kMostWidth = 0.3;  // half-windows, in dampings and of the frequency
constexpr double kOther[] = {0.7, 1.4};                             // the windows it is held against
constexpr Index kLeastLines = 9, kWantedLines = 13;  // the window grows, as far as it may, to hold so many
constexpr double kAllowance = 0.003;  // of a line's largest entry: what very clean lines may be wrong by all the same
constexpr std::size_t kNear = 4;      // lines on either side that share a deviation: a few periods tell it poorly
constexpr int kSteps = 30;
constexpr double kClear = 6;  // deviations of its part; a pole that is free to look for the best noise finds 3 or 4
constexpr double kFarthest = 0.5;  // of the half-window: a pole that wanders farther is another one

struct Window {
  double centre_rad = 0, half_rad = 0;
  std::vector<double> omega;
  std::array<VectorXcd, 4> h;             // weighted
  std::array<Eigen::VectorXd, 4> weight;  // 1/deviation
};

std::array<Complex, 4> entries(const math::Complex2x2& m) { return {m.aa, m.ab, m.ba, m.bb}; }

Window window_of(const Response& r, double centre_rad, double half_rad) {
  Window out{.centre_rad = centre_rad, .half_rad = half_rad};
  std::vector<std::size_t> at;
  for (std::size_t k = 0; k < r.g.size(); ++k)
    if (std::abs(2 * std::numbers::pi * r.frequency_hz[k] - centre_rad) <= half_rad) at.push_back(k);
  const auto n = static_cast<Index>(at.size());
  for (std::size_t e = 0; e < 4; ++e) out.h[e].resize(n), out.weight[e].resize(n);
  for (Index i = 0; i < n; ++i) {
    const std::size_t k = at[static_cast<std::size_t>(i)];
    const double w = 2 * std::numbers::pi * r.frequency_hz[k];
    out.omega.push_back(w);
    const auto g = entries(r.g[k]);
    double largest = 0;
    for (const Complex& entry : g) largest = std::max(largest, std::abs(entry));
    const std::size_t from = k > kNear ? k - kNear : 0, to = std::min(r.g.size(), k + kNear + 1);
    for (std::size_t e = 0; e < 4; ++e) {
      double variance = 0;
      for (std::size_t m = from; m < to; ++m)
        variance += std::max(0.0, r.covariance[m][5 * e].real()) / static_cast<double>(to - from);
      variance = std::max(variance, r.covariance[k][5 * e].real());
      out.weight[e][i] = 1 / (w * w * std::sqrt(variance + std::pow(kAllowance * largest, 2)));
      out.h[e][i] = -w * w * g[e] * out.weight[e][i];
    }
  }
  return out;
}

struct Poles {
  std::vector<Complex> free, held;  // the mode asked for is the first free one
};

struct Solved {
  std::array<VectorXcd, 4> c;        // residues of free, of held, B, D
  std::array<double, 4> first_sd{};  // of the first residue, for errors of the weights' size
  MatrixXcd jacobian;                // of the weighted model by the free poles, rest projected out
  VectorXcd left;                    // weighted data less model
  double squares = 0;
};

Solved solve_at(const Window& window, const Poles& poles) {
  const auto n = static_cast<Index>(window.omega.size()), f = static_cast<Index>(poles.free.size()),
             all = f + static_cast<Index>(poles.held.size()), m = all + 2;
  MatrixXcd phi(n, m), slope(n, f);
  for (Index i = 0; i < n; ++i) {
    const Complex s(0, window.omega[static_cast<std::size_t>(i)]);
    for (Index k = 0; k < all; ++k) {
      const Complex p = k < f ? poles.free[static_cast<std::size_t>(k)] : poles.held[static_cast<std::size_t>(k - f)];
      phi(i, k) = window.half_rad / (s - p);
      if (k < f) slope(i, k) = window.half_rad / ((s - p) * (s - p));
    }
    phi(i, all) = 1;
    phi(i, all + 1) = (s.imag() - window.centre_rad) / window.half_rad;
  }
  Solved out{.jacobian = MatrixXcd(4 * n, f), .left = VectorXcd(4 * n)};
  for (std::size_t e = 0; e < 4; ++e) {
    const auto w = window.weight[e].cast<Complex>().asDiagonal();
    const Eigen::HouseholderQR<MatrixXcd> qr(w * phi);
    const MatrixXcd q = qr.householderQ() * MatrixXcd::Identity(n, m);
    out.c[e] = qr.solve(window.h[e]);
    const MatrixXcd r = qr.matrixQR().topRows(m).triangularView<Eigen::Upper>();
    out.first_sd[e] = r.triangularView<Eigen::Upper>().solve(MatrixXcd::Identity(m, m)).row(0).norm();
    const MatrixXcd columns = w * slope * out.c[e].head(f).asDiagonal();
    const auto at = static_cast<Index>(e) * n;
    out.jacobian.middleRows(at, n) = columns - q * (q.adjoint() * columns);
    out.left.segment(at, n) = window.h[e] - q * (q.adjoint() * window.h[e]);
  }
  out.squares = out.left.squaredNorm();
  return out;
}

struct Read {
  bool done = false;
  Complex pole;
  double pole_sd = 0;  // root of E|dp|^2
  std::array<Complex, 4> residue{};
  std::array<double, 4> residue_sd{};  // root of E|dR|^2, the pole held
  double misfit = 0;
  std::size_t lines = 0;
};

Read read_in(const Window& window, Poles poles) {
  Read out;
  const Complex start = poles.free.front();
  const auto n = static_cast<Index>(window.omega.size());
  const auto unknowns = static_cast<Index>(poles.free.size() + poles.held.size()) + 2;
  if (n < std::max(kLeastLines, unknowns + 3)) return out;
  Solved now = solve_at(window, poles);
  for (int step = 0; step < kSteps; ++step) {
    const VectorXcd d =
        MatrixXcd(now.jacobian.adjoint() * now.jacobian).ldlt().solve(now.jacobian.adjoint() * now.left);
    if (!d.allFinite()) return out;
    // Halved until it helps.
    double part = std::min(1.0, 0.2 * window.half_rad / std::max(d.norm(), 1e-300));
    bool better = false;
    for (int half = 0; half < 8 && !better; ++half, part /= 2) {
      Poles next = poles;
      for (std::size_t k = 0; k < next.free.size(); ++k) next.free[k] += part * d[static_cast<Index>(k)];
      if (std::any_of(next.free.begin(), next.free.end(), [](const Complex& p) { return p.real() >= 0; })) continue;
      Solved then = solve_at(window, next);
      if (!(then.squares < now.squares)) continue;
      better = true, now = std::move(then), poles = std::move(next);
    }
    if (!better || d.norm() * part < 1e-7 * window.half_rad) break;
  }
  if (std::abs(poles.free.front() - start) > kFarthest * window.half_rad) return out;
  const MatrixXcd inverse = MatrixXcd(now.jacobian.adjoint() * now.jacobian).inverse();
  const double freedom = static_cast<double>(4 * (n - unknowns) - static_cast<Index>(poles.free.size()));
  out.misfit = std::sqrt(now.squares / freedom);
  out.pole = poles.free.front();
  out.pole_sd = std::sqrt(std::max(0.0, inverse(0, 0).real())) * std::max(1.0, out.misfit);
  for (std::size_t e = 0; e < 4; ++e)
    out.residue[e] = now.c[e][0], out.residue_sd[e] = now.first_sd[e] * std::max(1.0, out.misfit);
  out.lines = static_cast<std::size_t>(n);
  double clear = 0;
  for (std::size_t e = 0; e < 4; ++e) clear = std::max(clear, std::abs(out.residue[e]) / out.residue_sd[e]);
  out.done = std::isfinite(out.pole_sd) && out.pole.real() < 0 && clear > kClear;
  return out;
}

Poles poles_in(const std::vector<Complex>& expected, std::size_t which, double half_rad) {
  Poles out{.free = {expected[which]}};
  for (std::size_t k = 0; k < expected.size(); ++k) {
    const double off = std::abs(expected[k].imag() - expected[which].imag());
    if (k == which || off > 1.6 * half_rad) continue;
    (off < 0.9 * half_rad ? out.free : out.held).push_back(expected[k]);
  }
  return out;
}

// The column of the stronger input; its smaller entry over its larger one.
void put_shape(LocalMode& out, const Read& read) {
  const auto& r = read.residue;
  const bool from_a = std::norm(r[0]) + std::norm(r[2]) >= std::norm(r[1]) + std::norm(r[3]);
  const Complex a = from_a ? r[0] : r[1], b = from_a ? r[2] : r[3];
  const bool larger_a = std::abs(a) >= std::abs(b);
  out.shape_a = larger_a ? Complex(1) : a / b;
  out.shape_b = larger_a ? b / a : Complex(1);
  const double larger = std::max(std::abs(a), std::abs(b)), ratio = std::min(std::abs(a), std::abs(b)) / larger;
  const double a_sd = read.residue_sd[from_a ? 0 : 1] / larger, b_sd = read.residue_sd[from_a ? 2 : 3] / larger;
  out.shape_sd = larger_a ? std::hypot(b_sd, ratio * a_sd) : std::hypot(a_sd, ratio * b_sd);
}

}  // namespace

LocalMode read_mode(const Response& sides, const std::vector<Complex>& expected, std::size_t which) {
  LocalMode out;
  if (sides.state != ResponseState::done) {
    out.reason = "no response was measured";
    return out;
  }
  const Complex guess = expected[which];
  const double centre = std::abs(guess), damping = -guess.real() / centre;
  const double wanted = std::numbers::pi * sides.line_spacing_hz * kWantedLines;
  const double half =
      std::min(std::max(centre * std::clamp(kWidth * damping, kLeastWidth, kMostWidth), wanted), centre * kMostWidth);
  const Read read = read_in(window_of(sides, centre, half), poles_in(expected, which, half));
  if (!read.done) {
    out.reason =
        fmt::format("the measured lines about {:.1f} Hz do not show it apart", centre / (2 * std::numbers::pi));
    return out;
  }
  double hz_step = 0, damping_step = 0;
  const auto hz_of = [](const Complex& p) { return std::abs(p) / (2 * std::numbers::pi); };
  const auto damping_of = [](const Complex& p) { return -p.real() / std::abs(p); };
  out.hz = hz_of(read.pole), out.damping = damping_of(read.pole);
  put_shape(out, read);
  double shape_step = 0;
  for (const double times : kOther) {
    const Read other = read_in(window_of(sides, centre, times * half), poles_in(expected, which, times * half));
    if (!other.done) continue;
    hz_step = std::max(hz_step, std::abs(hz_of(other.pole) - out.hz));
    damping_step = std::max(damping_step, std::abs(damping_of(other.pole) - out.damping));
    LocalMode shape;
    put_shape(shape, other);
    shape_step = std::max({shape_step, std::abs(shape.shape_a - out.shape_a), std::abs(shape.shape_b - out.shape_b)});
  }
  out.shape_sd = std::hypot(out.shape_sd, shape_step);
  const double part = read.pole_sd / std::numbers::sqrt2;  // along or across: half of E|dp|^2 each
  out.hz_sd = std::hypot(part / (2 * std::numbers::pi), hz_step);
  out.damping_sd = std::hypot(part / centre, damping_step);
  out.from_hz = (centre - half) / (2 * std::numbers::pi), out.to_hz = (centre + half) / (2 * std::numbers::pi);
  out.lines = read.lines;
  out.done = true;
  return out;
}

}  // namespace evenbeam::signal
