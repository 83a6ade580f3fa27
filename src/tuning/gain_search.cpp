#include "tuning/gain_search.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "math/random.h"
#include "servo/law_response.h"

namespace evenbeam::tuning {
namespace {

using machine::Settings;
using math::Complex;
using math::Complex2x2;

constexpr double kMeanWeight = 0.3;
constexpr double kPenalty = 200;  // cost for a constraint broken by its own size: far above any gain in log energy

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
struct LawLines {
  std::vector<double> hz;
  std::vector<Complex> mean, skew;
};

LawLines law_lines(const servo::LoopLaw& law, const std::vector<double>& hz) {
  LawLines out{hz, {}, {}};
  for (double f : hz) {
    const double w = 2 * std::numbers::pi * f;
    out.mean.push_back(servo::response(law.mean, w));
    out.skew.push_back(servo::response(law.skew, w));
  }
  return out;
}

// One number a variable, all searched in their logarithms.
std::vector<double*> variables(Settings& s) {
  std::vector<double*> out;
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    for (double* x :
         {&c->velocity_gain_n_s_per_m, &c->velocity_integral_s, &c->position_gain_per_s, &c->velocity_filter_hz})
      out.push_back(x);
    for (machine::Biquad& f : c->filters)
      for (double* x : {&f.hz, &f.zn, &f.zd}) out.push_back(x);
  }
  return out;
}

// Filters stay where the law and its person can follow them: damping 0.05..2 keeps a notch wider than what carriage
// and temperature move a mode (common practice, no source).
void keep_in_bounds(Settings& s) {
  const double top_hz = 0.4 / s.period_s;
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    c->velocity_filter_hz = std::clamp(c->velocity_filter_hz, 20.0, top_hz);
    c->velocity_integral_s = std::max(c->velocity_integral_s, 20 * s.period_s);
    for (machine::Biquad& f : c->filters) {
      f.hz = std::clamp(f.hz, 10.0, top_hz / 2);
      f.zn = std::clamp(f.zn, 0.05, 2.0);
      f.zd = std::clamp(f.zd, 0.1, 2.0);
    }
  }
}

double penalised(const SearchScore& s, const SearchLimits& limits) {
  const double over =
      std::max(0.0, s.sensitivity / limits.sensitivity - 1) + std::max(0.0, s.noise_n / limits.noise_n - 1);
  return s.cost + kPenalty * over;
}

}  // namespace

SearchScore score(const std::vector<SearchCase>& cases, const Settings& s, const SearchLimits& limits) {
  const servo::LoopLaw law = servo::prepare(s);
  SearchScore out;
  LawLines lines;
  int counted = 0;
  for (const SearchCase& c : cases) {
    if (c.hz != lines.hz) lines = law_lines(law, c.hz);
    double skew = 0, mean = 0, noise_a = 0, noise_b = 0;
    for (size_t i = 0; i < c.hz.size(); ++i) {
      const AtLine line = at_line(c.g[i], lines.mean[i], lines.skew[i], c.share, s, limits);
      if (!(line.sensitivity <= out.sensitivity)) out.sensitivity = line.sensitivity, out.at_hz = c.hz[i];
      if (!c.counts_for_cost) continue;
      const double before = i > 0 ? c.hz[i - 1] : c.hz[i], after = i + 1 < c.hz.size() ? c.hz[i + 1] : c.hz[i];
      const double width = (after - before) / 2, per = width / (c.hz[i] * c.hz[i]);
      skew += line.skew * per, mean += line.mean * per;
      // density of white samples with variance q is 2 q T up to half the rate
      noise_a += line.noise_a * 2 * s.period_s * width, noise_b += line.noise_b * 2 * s.period_s * width;
    }
    if (!c.counts_for_cost) continue;
    ++counted;
    out.cost += std::log(skew) + kMeanWeight * std::log(mean);
    out.noise_n = std::max({out.noise_n, std::sqrt(noise_a), std::sqrt(noise_b)});
  }
  if (counted > 0) out.cost /= counted;
  if (!std::isfinite(out.cost + out.sensitivity + out.noise_n)) out.cost = out.sensitivity = 1e300;
  return out;
}

SearchResult search_gains(const std::vector<SearchCase>& cases, const Settings& start, const SearchLimits& limits,
                          int tries, std::uint64_t seed) {
  math::Random random(seed);
  SearchResult out{.settings = start, .before = score(cases, start, limits)};
  out.after = out.before;
  double best = penalised(out.before, limits), step = 0.2;
  const size_t count = variables(out.settings).size();
  for (; out.tried < tries && step > 1e-3; ++out.tried) {
    Settings next = out.settings;
    const auto x = variables(next);
    const size_t sure = random.below(count);  // at least one moves, the others one time in four
    for (size_t i = 0; i < count; ++i)
      if (i == sure || random.uniform() < 0.25) *x[i] *= std::exp(step * random.normal());
    keep_in_bounds(next);
    const SearchScore s = score(cases, next, limits);
    const double value = penalised(s, limits);
    const bool better = value < best;
    step *= better ? std::exp(0.2) : std::exp(-0.2 / 6);
    step = std::min(step, 0.5);
    if (better) best = value, out.settings = next, out.after = s;
  }
  return out;
}

}  // namespace evenbeam::tuning
