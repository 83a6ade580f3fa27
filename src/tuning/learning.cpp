#include "tuning/learning.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "dynamics/linear_response.h"
#include "servo/law_response.h"
#include "signal/fft.h"
#include "tuning/joint_doubt.h"

namespace evenbeam::tuning {
namespace {

using math::Complex;
using math::Complex2x2;
using Lines = std::vector<Complex>;

constexpr int kDrawn = 12;          // plants of the doubt's surface that the first order is held against
constexpr double kMargin = 1.1;     // on what first order and those plants show
constexpr double kMostDoubt = 0.8;  // relative, where Q is not zero
constexpr double kGain = 0.8;       // b
constexpr double kFloor = 0.02;     // r over the largest |P^|: what lies lower is not learned

Complex skew_response(const dynamics::ResponseModel& model, const servo::LoopLaw& law, double w) {
  const dynamics::SideResponse r = dynamics::response(model, w);
  const servo::SideResponse c = servo::response(law, w);
  const Complex2x2 g{r.aa, r.ab, r.ba, r.bb}, one{1, 0, 0, 1};
  const Complex2x2 moves = math::inverse(one + g * Complex2x2{c.aa, c.ab, c.ba, c.bb}) * g;
  return moves.aa - moves.ab - moves.ba + moves.bb;
}

// Asked on a log grid and straight in between: lines are far closer than the response changes.
struct Curve {
  std::vector<double> hz;
  Lines value;
  Complex at(double f) const {
    if (f <= hz.front()) return value.front() * (f / hz.front());
    const auto it = std::upper_bound(hz.begin(), hz.end(), f);
    if (it == hz.end()) return value.back();
    const auto i = static_cast<size_t>(it - hz.begin());
    return value[i - 1] + (f - hz[i - 1]) / (hz[i] - hz[i - 1]) * (value[i] - value[i - 1]);
  }
};

Curve curve_of(const dynamics::Plant& plant, const machine::Settings& settings) {
  Curve out;
  const auto model = dynamics::response_model(plant, settings.period_s);
  const servo::LoopLaw law = servo::prepare(settings);
  for (double f = 0.1; f < 0.5 / settings.period_s; f *= 1.02) {
    out.hz.push_back(f);
    out.value.push_back(skew_response(model, law, 2 * std::numbers::pi * f));
  }
  return out;
}

// Largest |P/P^ - 1| a line over all that the fit allows jointly, |c| <= radius: to first order radius times the
// largest singular value of the slopes by c, real part above imaginary; where a plant of the surface shows more,
// that.
std::vector<double> joint_relative_doubt(const identification::Identified& id, const machine::Settings& settings,
                                         const Case& where, const Curve& fitted) {
  constexpr double kStep = 0.5;  // standard deviations to either side
  std::vector<double> out(fitted.hz.size(), 0.0);
  const JointDoubt doubt = joint_doubt(id);
  if (doubt.directions == 0) return out;
  const auto curve_at = [&](const Eigen::VectorXd& c) {
    return curve_of(at_case(plant_at(id.plant, doubt, c), where), settings);
  };
  std::vector<double> re_re(out.size(), 0.0), im_im(out.size(), 0.0), re_im(out.size(), 0.0);
  for (Eigen::Index k = 0; k < doubt.directions; ++k) {
    const Eigen::VectorXd step = kStep * Eigen::VectorXd::Unit(doubt.directions, k);
    const Curve more = curve_at(step), less = curve_at(-step);
    for (size_t i = 0; i < out.size(); ++i) {
      const Complex slope = (more.value[i] - less.value[i]) / (2 * kStep * fitted.value[i]);
      re_re[i] += slope.real() * slope.real(), im_im[i] += slope.imag() * slope.imag();
      re_im[i] += slope.real() * slope.imag();
    }
  }
  for (size_t i = 0; i < out.size(); ++i) {
    const double half = (re_re[i] + im_im[i]) / 2;
    out[i] = doubt.radius * std::sqrt(half + std::hypot((re_re[i] - im_im[i]) / 2, re_im[i]));
  }
  math::Random random(7);
  for (int k = 0; k < kDrawn; ++k) {
    const Curve other = curve_at(drawn_direction(doubt, 1, true, random));
    for (size_t i = 0; i < out.size(); ++i)
      out[i] = std::max(out[i], std::abs(other.value[i] / fitted.value[i] - 1.0));
  }
  for (double& x : out) x *= kMargin;
  return out;
}

double kept(double hz, double top_hz) {
  if (hz <= top_hz / 2) return 1;
  return hz >= top_hz ? 0 : 0.5 + 0.5 * std::cos(2 * std::numbers::pi * (hz / top_hz - 0.5));
}

size_t even_length(size_t samples) { return 2 * (samples + samples % 2); }

Lines transformed(const std::vector<double>& x, size_t length) {
  std::vector<double> padded(length, 0.0);
  std::copy(x.begin(), x.end(), padded.begin());
  return signal::forward_transform(padded);
}

double peak(const std::vector<double>& x) {
  double most = 0;
  for (double v : x) most = std::max(most, std::abs(v));
  return most;
}

}  // namespace

LearningFilter learning_filter(const identification::Identified& id, const machine::Settings& settings,
                               const Case& where, size_t samples) {
  LearningFilter out{.period_s = settings.period_s, .length = even_length(samples)};
  const Curve fitted = curve_of(at_case(id.plant, where), settings);
  const std::vector<double> relative = joint_relative_doubt(id, settings, where, fitted);
  double largest = 0;
  for (const Complex& p : fitted.value) largest = std::max(largest, std::abs(p));
  // Up to the first frequency that is known too badly, or where the response is too small to learn.
  for (size_t i = 0; i < relative.size(); ++i) {
    if (relative[i] > kMostDoubt || (fitted.hz[i] > 20 && std::abs(fitted.value[i]) < kFloor * largest)) break;
    out.top_hz = fitted.hz[i];
  }
  out.found = out.top_hz > 1;
  if (!out.found) return out;
  out.contraction = 0;
  for (size_t k = 0; k <= out.length / 2; ++k) {
    const double f = static_cast<double>(k) / (static_cast<double>(out.length) * out.period_s);
    const Complex p = fitted.at(std::max(f, 1e-3));
    const double r = kFloor * largest;
    const auto near =
        std::min(static_cast<size_t>(std::upper_bound(fitted.hz.begin(), fitted.hz.end(), f) - fitted.hz.begin()),
                 relative.size() - 1);
    out.response.push_back(p);
    out.doubt.push_back(relative[near] * std::abs(p));
    out.step.push_back(kGain * std::conj(p) / (std::norm(p) + r * r));
    out.keep.push_back(kept(f, out.top_hz));
    const double share = kGain * std::norm(p) / (std::norm(p) + r * r);
    out.contraction = std::max(out.contraction, out.keep.back() * (1 - share + share * relative[near]));
  }
  return out;
}

NextTrial next_trial(const LearningFilter& filter, const std::vector<double>& error, const std::vector<double>& force,
                     double not_repeating_m) {
  base::check(filter.found && error.size() <= filter.length, "a filter for this move",
              {double(error.size()), double(filter.length)});
  const Lines e = transformed(error, filter.length), f = transformed(force, filter.length);
  Lines next(e.size()), error_next(e.size());
  double unsure = 0;
  for (size_t k = 0; k < e.size(); ++k) {
    next[k] = filter.keep[k] * (f[k] - filter.step[k] * e[k]);
    const Complex change = next[k] - f[k];
    error_next[k] = e[k] + filter.response[k] * change;
    unsure += (k == 0 || k + 1 == e.size() ? 1 : 2) * filter.doubt[k] * std::abs(change);
  }
  NextTrial out{.force_n = signal::inverse_transform(next, filter.length)};
  out.force_n.resize(error.size());
  std::vector<double> expected = signal::inverse_transform(error_next, filter.length);
  expected.resize(error.size());
  out.bound_m = peak(expected) + unsure / static_cast<double>(filter.length) + not_repeating_m;
  return out;
}

std::vector<Trial> rehearse_learning(const ForecastMove& move, const dynamics::Plant& plant,
                                     const identification::Identified& id, const machine::Settings& settings,
                                     int trials, const ForecastOptions& options) {
  const LearningFilter filter =
      learning_filter(id, settings, {move.carriage_y_m, move.payload_kg}, move.reference.mean_m.size());
  std::vector<Trial> out;
  NextTrial next;
  for (int k = 0; k < trials; ++k) {
    ForecastOptions here = options;
    here.seed = options.seed + static_cast<std::uint64_t>(k);
    const simulation::RunSeries run = run_move(move, plant, {.common = settings}, here, next.force_n);
    out.push_back({run.peak_skew_error_m, next.bound_m});
    if (!filter.found) break;
    std::vector<double> error(run.time_s.size());
    for (size_t i = 0; i < error.size(); ++i)
      error[i] = run.position_a_m[i] - run.position_b_m[i] - (run.reference_a_m[i] - run.reference_b_m[i]);
    next = next_trial(filter, error, next.force_n, options.count_a_m + options.count_b_m);
  }
  return out;
}

}  // namespace evenbeam::tuning
