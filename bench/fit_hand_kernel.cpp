#include "fit_hand_kernel.h"

#include <cmath>

namespace evenbeam::bench {
namespace {

using Z = std::complex<double>;
constexpr int N = hand_parameters;

struct Normal {
  double cost = 0;
  std::array<double, N> gradient{};
  std::array<double, N * N> matrix{};  // lower half
};

struct Values {
  double scale[2], motor[2], spring[2], damper[2], mass, moment, inertia, stiff, damp, delay, lag;
};

Values values(const HandVector& x) {
  const auto e = [&](int j) { return std::exp(x[static_cast<std::size_t>(j)]); };
  return {
      {1 + x[0], 1 - x[0]}, {e(1), e(2)}, {e(3), e(4)}, {e(5), e(6)}, e(7), x[8], e(9), e(10), e(11), e(12), e(13)};
}

// One line into the sums; derivatives only where asked for.
void add_line(Normal& out, const Values& v, const HandFixed& f, const HandLine& line, bool slopes) {
  const Z s(0, line.w);
  const double s2 = -line.w * line.w, y = f.carriage_y_m, arm[2] = {f.half_span_m, -f.half_span_m};
  const double viscous[2] = {f.viscous_a, f.viscous_b};
  Z xx(s2 * (v.mass + f.carriage_kg)), xt(-s2 * (v.moment + f.carriage_kg * y));
  Z tt = s2 * (v.inertia + f.carriage_kg * y * y) + v.stiff + s * v.damp, through[2], own[2];
  for (int i = 0; i < 2; ++i) {
    const Z k = v.spring[i] + s * v.damper[i];
    own[i] = 1.0 / (k + s2 * v.motor[i]);
    through[i] = k * own[i];
    const Z g = through[i] * (s2 * v.motor[i]) + s * viscous[i];
    xx += g, xt += arm[i] * g, tt += arm[i] * arm[i] * g;
  }
  const Z by = 1.0 / (xx * tt - xt * xt), ixx = tt * by, ixt = -xt * by, itt = xx * by;
  const Z act = std::polar(1.0, -line.w * v.delay) / (1.0 + s * v.lag);
  Z mean[2], yaw[2], motor[2][2], stretch[2][2], end[2];
  for (int j = 0; j < 2; ++j) {
    mean[j] = (ixx + arm[j] * ixt) * through[j], yaw[j] = (ixt + arm[j] * itt) * through[j];
    for (int i = 0; i < 2; ++i) {
      const Z place = mean[j] + arm[i] * yaw[j];
      motor[j][i] = through[i] * place + (i == j ? own[j] : Z(0));
      stretch[j][i] = motor[j][i] - place;
    }
  }
  for (int i = 0; i < 2; ++i) end[i] = 1.0 / through[i];
  for (int i = 0; i < 2; ++i)
    for (int j = 0; j < 2; ++j) {
      const std::size_t at = static_cast<std::size_t>(2 * i + j);
      const Z drive = act * v.scale[j], g = drive * (mean[j] + arm[i] * yaw[j]);
      const Z miss = (g - line.g[at]) * line.by[at];
      out.cost += std::norm(miss) / 2;
      if (!slopes) continue;
      // Motions per force on end i: those per force on motor i over through_i, the motor's own part taken out.
      const Z wm = mean[i] * end[i], wy = yaw[i] * end[i], c = -drive * line.by[at];
      Z d[N];
      d[0] = g * line.by[at] * ((j == 0 ? 1 : -1) / v.scale[j]);
      for (int n = 0; n < 2; ++n) {
        const Z place = wm + arm[n] * wy, moved = through[n] * place, held = moved - place;
        d[1 + n] = c * (s2 * v.motor[n]) * (moved * motor[j][n]);
        d[3 + n] = c * v.spring[n] * (held * stretch[j][n]);
        d[5 + n] = c * s * v.damper[n] * (held * stretch[j][n]);
      }
      d[7] = c * (s2 * v.mass) * (wm * mean[j]);
      d[8] = -c * s2 * (wm * yaw[j] + wy * mean[j]);
      d[9] = c * (s2 * v.inertia) * (wy * yaw[j]);
      d[10] = c * v.stiff * (wy * yaw[j]);
      d[11] = c * s * v.damp * (wy * yaw[j]);
      d[12] = -s * v.delay * g * line.by[at];
      d[13] = -s * v.lag / (1.0 + s * v.lag) * g * line.by[at];
      for (int a = 0; a < N; ++a) {
        out.gradient[static_cast<std::size_t>(a)] += d[a].real() * miss.real() + d[a].imag() * miss.imag();
        for (int b = 0; b <= a; ++b)
          out.matrix[static_cast<std::size_t>(a * N + b)] += d[a].real() * d[b].real() + d[a].imag() * d[b].imag();
      }
    }
}

Normal sums(const std::vector<HandLine>& lines, const HandFixed& fixed, const HandVector& x, bool slopes) {
  Normal out;
  const Values v = values(x);
  for (const HandLine& line : lines) add_line(out, v, fixed, line, slopes);
  return out;
}

// Cholesky of matrix + damping diagonal; false where it is not positive.
bool solve_step(const Normal& n, double damping, std::array<double, N>& step) {
  std::array<double, N* N> l = n.matrix;
  const auto at = [](int a, int b) { return static_cast<std::size_t>(a * N + b); };
  for (int a = 0; a < N; ++a) {
    l[at(a, a)] *= 1 + damping;
    for (int b = 0; b <= a; ++b) {
      double sum = l[at(a, b)];
      for (int k = 0; k < b; ++k) sum -= l[at(a, k)] * l[at(b, k)];
      if (a == b && !(sum > 0)) return false;
      l[at(a, b)] = a == b ? std::sqrt(sum) : sum / l[at(b, b)];
    }
  }
  for (int a = 0; a < N; ++a) {
    double sum = -n.gradient[static_cast<std::size_t>(a)];
    for (int k = 0; k < a; ++k) sum -= l[at(a, k)] * step[static_cast<std::size_t>(k)];
    step[static_cast<std::size_t>(a)] = sum / l[at(a, a)];
  }
  for (int a = N - 1; a >= 0; --a) {
    double sum = step[static_cast<std::size_t>(a)];
    for (int k = a + 1; k < N; ++k) sum -= l[at(k, a)] * step[static_cast<std::size_t>(k)];
    step[static_cast<std::size_t>(a)] = sum / l[at(a, a)];
  }
  return true;
}

}  // namespace

HandFit hand_fit(const std::vector<HandLine>& lines, const HandFixed& fixed, const HandVector& start) {
  HandFit out{start, 0, 0};
  double damping = 1e-3;
  Normal now = sums(lines, fixed, out.x, true);
  for (; out.iterations < 100; ++out.iterations) {
    std::array<double, N> step{};
    if (!solve_step(now, damping, step)) {
      damping = damping * 10 + 1e-12;
      continue;
    }
    HandVector trial = out.x;
    double largest = 0;
    for (std::size_t j = 0; j < N; ++j) {
      trial[j] += step[j];
      largest = std::max(largest, std::abs(step[j]) / (1 + std::abs(trial[j])));
    }
    if (largest < 1e-9) break;
    const double cost = sums(lines, fixed, trial, false).cost;
    if (cost < now.cost) {
      out.x = trial;
      now = sums(lines, fixed, out.x, true);
      damping /= 5;
    } else {
      damping *= 4;
      if (damping > 1e12) break;
    }
  }
  out.half_squares = now.cost;
  return out;
}

}  // namespace evenbeam::bench
