#include "signal/vector_fit.h"

#include <Eigen/QR>
#include <algorithm>
#include <cmath>

#include "math/eigenvalues.h"

namespace evenbeam::signal {
namespace {

using Eigen::Index;
using math::Complex;
using math::Complex2x2;

std::array<Complex, 4> entries(const Complex2x2& m) { return {m.aa, m.ab, m.ba, m.bb}; }

bool is_pair(const Complex& pole) { return pole.imag() > 0; }

Index columns_of(const std::vector<Complex>& poles) {
  Index count = 0;
  for (const auto& p : poles) count += is_pair(p) ? 2 : 1;
  return count;
}

// Values of the basis at every line: 1/(s - p) for a real pole, 1/(s - p) + 1/(s - p*) and j/(s - p) - j/(s - p*) for
// a pair (so that all coefficients are real), and 1 last. Times `unit` (rad/s), so that columns are of like size.
Eigen::MatrixXcd basis(const RationalData& data, const std::vector<Complex>& poles, double unit) {
  const auto lines = static_cast<Index>(data.omega_rad_per_s.size());
  Eigen::MatrixXcd phi(lines, columns_of(poles) + 1);
  for (Index k = 0; k < lines; ++k) {
    const Complex s(0, data.omega_rad_per_s[static_cast<std::size_t>(k)]);
    Index column = 0;
    for (const auto& p : poles) {
      const Complex direct = unit / (s - p), mirror = unit / (s - std::conj(p));
      if (is_pair(p)) {
        phi(k, column++) = direct + mirror;
        phi(k, column++) = Complex(0, 1) * (direct - mirror);
      } else {
        phi(k, column++) = direct;
      }
    }
    phi(k, column) = 1;
  }
  return phi;
}

// Rows: real parts of all lines, then imaginary parts, times the weight of the entry.
template <class Value>
void stack(const RationalData& data, std::size_t entry, Index column, Eigen::MatrixXd& to, Value value) {
  const auto lines = static_cast<Index>(data.h.size());
  for (Index k = 0; k < lines; ++k) {
    const Complex v = data.weight[static_cast<std::size_t>(k)][entry] * value(k);
    to(k, column) = v.real();
    to(lines + k, column) = v.imag();
  }
}

// What one entry has to say about sigma: the lower right block of the triangle of [phi | -H phi].
Eigen::MatrixXd sigma_rows(const RationalData& data, std::size_t entry, const Eigen::MatrixXcd& phi) {
  const Index n = phi.cols();
  Eigen::MatrixXd system(2 * phi.rows(), 2 * n);
  for (Index c = 0; c < n; ++c) {
    stack(data, entry, c, system, [&](Index k) { return phi(k, c); });
    stack(data, entry, n + c, system,
          [&](Index k) { return -math::times(entries(data.h[static_cast<std::size_t>(k)])[entry], phi(k, c)); });
  }
  const Eigen::HouseholderQR<Eigen::MatrixXd> qr(system);
  const Eigen::MatrixXd triangle = qr.matrixQR().topRows(2 * n).triangularView<Eigen::Upper>();
  return triangle.bottomRightCorner(n, n);
}

// Least squares with columns brought to unit length first.
Eigen::VectorXd solve_scaled(Eigen::MatrixXd a, const Eigen::VectorXd& y) {
  Eigen::VectorXd scale = a.colwise().norm().transpose();
  for (Index c = 0; c < a.cols(); ++c) {
    scale(c) = scale(c) > 0 ? 1 / scale(c) : 1;
    a.col(c) *= scale(c);
  }
  return a.colPivHouseholderQr().solve(y).cwiseProduct(scale);
}

// Zeros of sigma = d + sum c phi: eigenvalues of A - b c'/d.
std::vector<Complex> zeros(const std::vector<Complex>& poles, const Eigen::VectorXd& sigma, double unit) {
  const Index n = sigma.size() - 1;
  double d = sigma(n);
  if (std::abs(d) < 1e-8) d = d < 0 ? -1e-8 : 1e-8;  // the relaxed form may shrink it to nothing
  math::Matrix a(static_cast<std::size_t>(n), static_cast<std::size_t>(n));
  std::size_t row = 0;
  for (const auto& p : poles) {
    const std::size_t size = is_pair(p) ? 2 : 1;
    a(row, row) = p.real() / unit;
    if (size == 2) {
      a(row + 1, row + 1) = p.real() / unit;
      a(row, row + 1) = p.imag() / unit;
      a(row + 1, row) = -p.imag() / unit;
    }
    const double b = size == 2 ? 2 : 1;
    for (Index c = 0; c < n; ++c) a(row, static_cast<std::size_t>(c)) -= b * sigma(c) / d;
    row += size;
  }
  std::vector<Complex> next;
  for (const auto& value : math::eigenvalues(a)) {
    if (value.imag() < 0) continue;
    next.emplace_back(-std::max(std::abs(value.real()), 1e-9 * std::abs(value)) * unit, value.imag() * unit);
  }
  return next;
}

std::vector<Complex> next_poles(const RationalData& data, const std::vector<Complex>& poles, double unit) {
  const Eigen::MatrixXcd phi = basis(data, poles, unit);
  const Index n = phi.cols();
  Eigen::MatrixXd system(4 * n + 1, n);
  double size = 0;
  for (std::size_t entry = 0; entry < 4; ++entry) {
    system.middleRows(static_cast<Index>(entry) * n, n) = sigma_rows(data, entry, phi);
    for (std::size_t k = 0; k < data.h.size(); ++k)
      size += std::norm(data.weight[k][entry] * entries(data.h[k])[entry]);
  }
  // Relaxation: the mean real part of sigma over the lines is one; weighted like the rest of the system.
  const double lines = static_cast<double>(data.h.size()), weight = std::sqrt(size) / lines;
  system.row(4 * n) = weight * phi.real().colwise().sum();
  Eigen::VectorXd right = Eigen::VectorXd::Zero(4 * n + 1);
  right(4 * n) = weight * lines;
  return zeros(poles, solve_scaled(system, right), unit);
}

double middle_of(const RationalData& data) {
  return std::sqrt(data.omega_rad_per_s.front() * data.omega_rad_per_s.back());
}

}  // namespace

Complex2x2 evaluate(const RationalModel& model, double omega_rad_per_s) {
  const Complex s(0, omega_rad_per_s);
  Complex2x2 h = model.direct;
  for (std::size_t k = 0; k < model.poles.size(); ++k) {
    const Complex p = model.poles[k];
    const Complex2x2& r = model.residues[k];
    h = h + math::scaled(r, 1.0 / (s - p));
    if (is_pair(p))
      h = h + math::scaled({std::conj(r.aa), std::conj(r.ab), std::conj(r.ba), std::conj(r.bb)},
                           1.0 / (s - std::conj(p)));
  }
  return h;
}

std::vector<Complex> starting_poles(const RationalData& data, std::size_t pairs) {
  const double low = data.omega_rad_per_s.front(), ratio = data.omega_rad_per_s.back() / low;
  std::vector<Complex> poles;
  for (std::size_t k = 0; k < pairs; ++k) {
    const double omega = low * std::pow(ratio, (static_cast<double>(k) + 0.5) / static_cast<double>(pairs));
    poles.emplace_back(-0.01 * omega, omega);
  }
  return poles;
}

RationalModel fit_residues(const RationalData& data, std::vector<Complex> poles) {
  const double unit = middle_of(data);
  const Eigen::MatrixXcd phi = basis(data, poles, unit);
  const auto lines = static_cast<Index>(data.h.size());
  RationalModel model;
  model.residues.resize(poles.size());
  for (std::size_t entry = 0; entry < 4; ++entry) {
    Eigen::MatrixXd system(2 * lines, phi.cols()), right(2 * lines, 1);
    for (Index c = 0; c < phi.cols(); ++c) stack(data, entry, c, system, [&](Index k) { return phi(k, c); });
    stack(data, entry, 0, right, [&](Index k) { return entries(data.h[static_cast<std::size_t>(k)])[entry]; });
    const Eigen::VectorXd x = solve_scaled(system, right);
    const auto put = [&](Complex2x2& m, Complex value) {
      (entry == 0 ? m.aa : entry == 1 ? m.ab : entry == 2 ? m.ba : m.bb) = value;
    };
    Index column = 0;
    for (std::size_t k = 0; k < poles.size(); ++k) {
      const double re = x(column++), im = is_pair(poles[k]) ? x(column++) : 0.0;
      put(model.residues[k], Complex(re, im) * unit);
    }
    put(model.direct, x(column));
  }
  model.poles = std::move(poles);
  double sum = 0;
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    const auto difference = entries(evaluate(model, data.omega_rad_per_s[k]) - data.h[k]);
    for (std::size_t e = 0; e < 4; ++e) sum += std::norm(data.weight[k][e] * difference[e]);
  }
  model.error = std::sqrt(sum / (4 * static_cast<double>(data.h.size())));
  return model;
}

RationalModel fit_rational(const RationalData& data, std::vector<Complex> poles, int rounds) {
  const double unit = middle_of(data);
  for (int round = 0; round < rounds; ++round) {
    auto next = next_poles(data, poles, unit);
    if (next.empty()) break;
    poles = std::move(next);
  }
  return fit_residues(data, std::move(poles));
}

}  // namespace evenbeam::signal
