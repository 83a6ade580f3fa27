#include "tuning/gain_search.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "servo/law_response.h"
#include "tuning/search_slopes.h"

namespace evenbeam::tuning {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;
using machine::Settings;
using math::Complex;
using math::Complex2x2;

struct AtLine {
  double sensitivity = 0, skew = 0, mean = 0, noise_a = 0, noise_b = 0;
};

AtLine at_line(const Complex2x2& g, Complex mean, Complex skew, double share, const Settings& s,
               const SearchLimits& limits) {
  const servo::SideResponse side = servo::combine(share, mean, skew);
  const Complex2x2 c{side.aa, side.ab, side.ba, side.bb}, one{1, 0, 0, 1};
  const Complex2x2 output = one + g * c;
  Complex2x2 input = one + c * g;
  input.ab *= s.peak_force_b_n / s.peak_force_a_n;
  input.ba *= s.peak_force_a_n / s.peak_force_b_n;
  AtLine out;
  out.sensitivity = 1 / std::min(math::singular_values(output)[1], math::singular_values(input)[1]);
  const Complex2x2 sensitivity = math::inverse(output);
  const Complex2x2 moves = sensitivity * g, forces = c * sensitivity;
  out.skew = std::norm(moves.aa - moves.ab - moves.ba + moves.bb);
  out.mean = std::norm((moves.aa + moves.ab + moves.ba + moves.bb) / 4.0);
  const double qa = limits.count_a_m * limits.count_a_m / 12, qb = limits.count_b_m * limits.count_b_m / 12;
  out.noise_a = std::norm(forces.aa) * qa + std::norm(forces.ab) * qb;
  out.noise_b = std::norm(forces.ba) * qa + std::norm(forces.bb) * qb;
  return out;
}

// Lines are much the same in all cases: the law is asked once for equal frequencies.
struct LawOnLines {
  std::vector<double> hz;
  std::vector<Complex> mean, skew;
};

LawOnLines law_on_lines(const servo::LoopLaw& law, const std::vector<double>& hz) {
  LawOnLines out{hz, {}, {}};
  for (double f : hz) {
    const double w = 2 * std::numbers::pi * f;
    out.mean.push_back(servo::response(law.mean, w));
    out.skew.push_back(servo::response(law.skew, w));
  }
  return out;
}

// Descent with the known curvature and a shift that grows where a step fails (Levenberg, Marquardt; from memory),
// from a point where the objective is finite.
struct Descent {
  VectorXd x;
  int asked = 0;
};

Descent descended(const SearchObjective& of, const VectorXd& from, int most_asked) {
  constexpr double kLongest = 0.7;  // of a step, each setting's logarithm
  constexpr double kWorth = 1e-5;   // of a step, in J: below it the descent ends
  constexpr int kHalvings = 3;
  Descent out{from, 1};
  ObjectiveValue here = objective(of, from);
  double shift = 1e-3;
  while (here.slope.size() > 0 && out.asked < most_asked) {
    const MatrixXd bend = here.curvature + shift * MatrixXd::Identity(from.size(), from.size());
    VectorXd step = -bend.ldlt().solve(here.slope);
    step *= std::min(1.0, kLongest / step.lpNorm<Eigen::Infinity>());
    const double promised = -step.dot(here.slope) / 2;
    ObjectiveValue next;
    int halvings = 0;
    for (;; ++halvings, step /= 2) {
      next = objective(of, out.x + step), ++out.asked;
      if ((next.slope.size() > 0 && next.value < here.value) || halvings == kHalvings) break;
    }
    const bool better = next.slope.size() > 0 && next.value < here.value;
    if (better) out.x += step, here = next;
    if (promised < kWorth) break;
    shift = better && halvings < 2 ? std::max(1e-6, shift / 4) : 8 * shift;
  }
  return out;
}

}  // namespace

double line_width_hz(const std::vector<double>& hz, size_t i) {
  return ((i + 1 < hz.size() ? hz[i + 1] : hz[i]) - (i > 0 ? hz[i - 1] : hz[i])) / 2;
}

SearchScore score(const std::vector<SearchCase>& cases, const Settings& s, const SearchLimits& limits) {
  const servo::LoopLaw law = servo::prepare(s);
  SearchScore out;
  LawOnLines lines;
  int counted = 0;
  for (const SearchCase& c : cases) {
    if (c.hz != lines.hz) lines = law_on_lines(law, c.hz);
    double skew = 0, mean = 0, noise_a = 0, noise_b = 0;
    for (size_t i = 0; i < c.hz.size(); ++i) {
      const AtLine line = at_line(c.g[i], lines.mean[i], lines.skew[i], c.share, s, limits);
      if (!(line.sensitivity <= out.sensitivity)) out.sensitivity = line.sensitivity, out.at_hz = c.hz[i];
      if (!c.counts_for_cost) continue;
      const double width = line_width_hz(c.hz, i), per = width / (c.hz[i] * c.hz[i]);
      skew += line.skew * per, mean += line.mean * per;
      // density of white samples with variance q is 2 q T up to half the rate
      noise_a += line.noise_a * 2 * s.period_s * width, noise_b += line.noise_b * 2 * s.period_s * width;
    }
    if (!c.counts_for_cost) continue;
    ++counted;
    out.cost += std::log(skew) + mean_weight * std::log(mean);
    out.noise_n = std::max({out.noise_n, std::sqrt(noise_a), std::sqrt(noise_b)});
  }
  if (counted > 0) out.cost /= counted;
  if (!std::isfinite(out.cost + out.sensitivity + out.noise_n)) out.cost = out.sensitivity = 1e300;
  return out;
}

SearchResult search_gains(const std::vector<SearchCase>& cases, const Settings& start, const Settings& from,
                          const SearchLimits& limits) {
  constexpr double kPenalties[] = {30, 300, 3000};
  constexpr int kMost = 60;
  SearchResult out{.settings = from, .before = score(cases, start, limits)};
  SearchObjective of{.cases = cases, .start = inside_ranges(start), .limits = limits};
  VectorXd x = logarithms(of.start, inside_ranges(from));
  for (double penalty : kPenalties) {
    of.penalty = penalty;
    const Descent d = descended(of, x, kMost);
    x = d.x, out.tried += d.asked;
  }
  out.settings = inside_ranges(settings_at(of.start, x));
  out.after = score(cases, out.settings, limits);
  return out;
}

}  // namespace evenbeam::tuning
