#include "signal/mode_polish.h"

#include <cmath>
#include <limits>
#include <numbers>

#include "math/least_squares.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;

constexpr int rounds = 5;
constexpr double time_unit_s = 1e-4;  // of the dead time's column, for like sizes

std::array<Complex, 4> entries(const Complex2x2& m) { return {m.aa, m.ab, m.ba, m.bb}; }
Complex& entry(Complex2x2& m, std::size_t i) { return i == 0 ? m.aa : i == 1 ? m.ab : i == 2 ? m.ba : m.bb; }

// Where each unknown stands among the columns: first re, im of the chosen poles, then for every matrix entry the
// residues' coefficients and D; last the dead time, where it is free.
struct Layout {
  std::size_t chosen = 0, per_entry = 0;
  bool free_delay = false;
  std::size_t delay() const { return 2 * chosen + 4 * per_entry; }
  std::size_t columns() const { return delay() + (free_delay ? 1 : 0); }
  std::size_t first(std::size_t matrix_entry) const { return 2 * chosen + matrix_entry * per_entry; }
};

Layout lay_out(const RationalModel& model, std::size_t chosen, bool free_delay) {
  Layout layout{chosen, 1, free_delay};
  for (const auto& p : model.poles) layout.per_entry += p.imag() > 0 ? 2 : 1;
  return layout;
}

// Columns of one line and one matrix entry, unweighted; `put(column, value)`.
template <class Put>
void columns_at(const RationalModel& model, const std::vector<std::size_t>& chosen, const Layout& layout, Complex s,
                std::size_t matrix_entry, Put put) {
  for (std::size_t i = 0; i < chosen.size(); ++i) {
    const Complex p = model.poles[chosen[i]], r = entries(model.residues[chosen[i]])[matrix_entry];
    const Complex direct = r / ((s - p) * (s - p)), mirror = std::conj(r) / ((s - std::conj(p)) * (s - std::conj(p)));
    put(2 * i, direct + mirror);
    put(2 * i + 1, Complex(0, 1) * (direct - mirror));
  }
  std::size_t column = layout.first(matrix_entry);
  for (const auto& p : model.poles) {
    const Complex direct = 1.0 / (s - p), mirror = 1.0 / (s - std::conj(p));
    if (p.imag() > 0) {
      put(column++, direct + mirror);
      put(column++, Complex(0, 1) * (direct - mirror));
    } else {
      put(column++, direct);
    }
  }
  put(column, Complex(1, 0));
}

math::LeastSquaresResult solve_step(const RationalData& data, const RationalModel& model,
                                    const std::vector<std::size_t>& chosen, const Layout& layout) {
  math::RowFolder folder(layout.columns());
  std::vector<double> re(layout.columns()), im(layout.columns());
  for (std::size_t k = 0; k < data.h.size(); ++k) {
    const double omega = data.omega_rad_per_s[k];
    const auto left = entries(data.h[k] - evaluate(model, omega));
    for (std::size_t e = 0; e < 4; ++e) {
      const double w = data.weight[k][e];
      std::fill(re.begin(), re.end(), 0.0);
      std::fill(im.begin(), im.end(), 0.0);
      columns_at(model, chosen, layout, Complex(0, omega), e, [&](std::size_t column, Complex value) {
        re[column] = w * value.real();
        im[column] = w * value.imag();
      });
      if (layout.free_delay) {
        const Complex slope = -math::times(Complex(0, omega), entries(data.h[k])[e]) * time_unit_s;
        re[layout.delay()] = w * slope.real();
        im[layout.delay()] = w * slope.imag();
      }
      folder.add(re, w * left[e].real());
      folder.add(im, w * left[e].imag());
    }
  }
  math::LeastSquaresOptions options;
  options.needed_error = 1e-2;  // a step of an iteration, judged against its own standard errors
  return folder.solve(options);
}

void take_step(const std::vector<double>& x, const std::vector<std::size_t>& chosen, const Layout& layout,
               RationalModel& model) {
  for (std::size_t i = 0; i < chosen.size(); ++i) {
    Complex& p = model.poles[chosen[i]];
    // At most a twentieth of the frequency, half the damping: the linear range of a sharp peak.
    const Complex step(x[2 * i], x[2 * i + 1]);
    const double most = std::max(0.5 * std::abs(p.real()), 1e-4 * std::abs(p));
    p += std::abs(step) > most ? step * (most / std::abs(step)) : step;
    if (p.real() >= 0) p.real(-1e-9 * std::abs(p));
  }
  for (std::size_t e = 0; e < 4; ++e) {
    std::size_t column = layout.first(e);
    for (std::size_t k = 0; k < model.poles.size(); ++k) {
      const double re = x[column++], im = model.poles[k].imag() > 0 ? x[column++] : 0.0;
      entry(model.residues[k], e) += Complex(re, im);
    }
    entry(model.direct, e) += x[column];
  }
}

std::size_t residue_column(const RationalModel& model, const Layout& layout, std::size_t pole, std::size_t e) {
  std::size_t column = layout.first(e);
  for (std::size_t k = 0; k < pole; ++k) column += model.poles[k].imag() > 0 ? 2 : 1;
  return column;
}

PolishedPole read_pole(const RationalModel& model, const math::LeastSquaresResult& fit, const Layout& layout,
                       std::size_t i, std::size_t pole) {
  PolishedPole out;
  const Complex p = model.poles[pole];
  const double omega = std::abs(p), infinite = std::numeric_limits<double>::infinity();
  out.pole = p;
  out.hz = omega / (2 * std::numbers::pi);
  out.damping_ratio = -p.real() / omega;
  out.residue = model.residues[pole];
  out.hz_sd = out.damping_ratio_sd = infinite;
  out.residue_sd.fill(infinite);
  if (fit.state != math::FitState::solved) return out;
  const double rr = fit.covariance(2 * i, 2 * i), ri = fit.covariance(2 * i, 2 * i + 1),
               ii = fit.covariance(2 * i + 1, 2 * i + 1);
  const double c = p.real() / omega, s = p.imag() / omega;
  out.hz_sd = std::sqrt(c * c * rr + 2 * c * s * ri + s * s * ii) / (2 * std::numbers::pi);
  // zeta = -re/|p|: d zeta = (-s^2 d re + s c d im)/|p|.
  out.damping_ratio_sd = s / omega * std::sqrt(s * s * rr - 2 * s * c * ri + c * c * ii);
  for (std::size_t e = 0; e < 4; ++e) {
    const std::size_t column = residue_column(model, layout, pole, e);
    out.residue_sd[e] = std::hypot(fit.standard_errors[column], fit.standard_errors[column + 1]);
  }
  return out;
}

}  // namespace

Polished polish_poles(RationalData data, const RationalModel& model, const std::vector<std::size_t>& chosen,
                      bool free_delay) {
  Polished out;
  if (chosen.empty()) return out;
  RationalModel now = model;
  const Layout layout = lay_out(now, chosen.size(), free_delay);
  math::LeastSquaresResult fit;
  for (int round = 0; round < rounds; ++round) {
    fit = solve_step(data, now, chosen, layout);
    if (fit.state != math::FitState::solved) break;
    take_step(fit.coefficients, chosen, layout, now);
    if (!free_delay) continue;
    const double step_s = fit.coefficients[layout.delay()] * time_unit_s;
    out.delay_change_s += step_s;
    for (std::size_t k = 0; k < data.h.size(); ++k)
      data.h[k] = math::scaled(data.h[k], std::polar(1.0, data.omega_rad_per_s[k] * step_s));
  }
  for (std::size_t i = 0; i < chosen.size(); ++i) out.poles.push_back(read_pole(now, fit, layout, i, chosen[i]));
  return out;
}

}  // namespace evenbeam::signal
