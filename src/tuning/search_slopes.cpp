#include "tuning/search_slopes.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "servo/law_slopes.h"
#include "tuning/line_slopes.h"

namespace evenbeam::tuning {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using machine::Settings;
using math::Complex;
using math::times;

struct LawLine {
  servo::ResponseSlopes mean, skew;
};

// Slope by x of a value that both responses make.
void slope_by_settings(const Sloped& term, const LawLine& law, VectorXd& out) {
  const auto along = [&](const servo::ResponseSlopes& of, const Complex& by, Index from) {
    const Complex turned = times(by, of.response);
    for (int i = 0; i < of.count; ++i) {
      const Complex& s = of.slope[static_cast<size_t>(i)];
      out[from + i] = turned.real() * s.real() - turned.imag() * s.imag();
    }
  };
  along(law.mean, term.by[0], 0);
  along(law.skew, term.by[1], law.mean.count);
}

// A sum over lines with its slope by x.
struct Sum {
  double value = 0;
  VectorXd slope;
  void add(const Sloped& term, double weight, const VectorXd& along) {
    value += weight * term.value;
    slope += weight * along;
  }
};

void add_square(MatrixXd& to, double weight, const VectorXd& along) {
  to.selfadjointView<Eigen::Lower>().rankUpdate(along, weight);
}

// The square of what ln S^2 is above that of the limit.
void add_excess(ObjectiveValue& out, double log_square, double limit, double weight, const VectorXd& along) {
  const double above = log_square - 2 * std::log(limit);
  if (!(above > 0)) return;
  out.value += weight * above * above;
  out.slope += 2 * weight * above * along;
  add_square(out.curvature, 2 * weight, along);
}

// The same for settings outside their ranges, in their logarithms.
void add_ranges(ObjectiveValue& out, Settings s, double weight) {
  const std::vector<SettingRange> ranges = ranges_of(s);
  const auto x = variables(s);
  for (size_t i = 0; i < x.size(); ++i) {
    const auto at = static_cast<Index>(i);
    const double below = ranges[i].low > 0 ? std::log(ranges[i].low / *x[i]) : 0;
    const double outside = below > 0 ? -below : std::max(0.0, std::log(*x[i] / ranges[i].high));
    if (outside == 0) continue;
    out.value += weight * outside * outside;
    out.slope[at] += 2 * weight * outside;
    out.curvature(at, at) += 2 * weight;
  }
}

// One place: its energies and noise, and of each line's ln energy the weighted square of its slope.
struct CaseSums {
  Sum skew, mean, noise_a, noise_b;
  MatrixXd skew_squares, mean_squares;
};

// d ln f of line i.
double log_width(const std::vector<double>& hz, size_t i) {
  constexpr double kLeast = 0.02;  // a line stands for that much at least: a mode may be narrow
  const double before = i > 0 ? hz[i - 1] : hz[i], after = i + 1 < hz.size() ? hz[i + 1] : hz[i];
  return std::max(kLeast, std::log(after / before) / 2);
}

// ln of a sum of positive terms t: its curvature is the covariance of the slopes of ln t, weighted by the terms, but
// for what the terms' logarithms bend themselves, which is left out.
void add_log(ObjectiveValue& out, const Sum& sum, const MatrixXd& squares, double weight) {
  const VectorXd slope = sum.slope / sum.value;
  out.value += weight * std::log(sum.value);
  out.slope += weight * slope;
  out.curvature += weight / sum.value * squares;
  add_square(out.curvature, -weight, slope);
}

void add_noise(ObjectiveValue& out, const Sum& variance, double limit, double weight) {
  if (!(variance.value > 0)) return;
  add_excess(out, std::log(variance.value), limit, weight, variance.slope / variance.value);
}

std::vector<LawLine> law_on(const std::vector<double>& hz, const Settings& s) {
  std::vector<LawLine> out;
  for (double f : hz) {
    const double w = 2 * std::numbers::pi * f;
    out.push_back({servo::response_slopes(s.mean, s.period_s, w), servo::response_slopes(s.skew, s.period_s, w)});
  }
  return out;
}

VectorXd departures(const SearchObjective& of) {
  VectorXd out = VectorXd::Constant(search_variables(of.start), of.departure);
  Index at = 0;
  for (const machine::CoordinateLoop* c : {&of.start.mean, &of.start.skew}) {
    out[at + 3] = of.filter_departure;
    out.segment(at + 4, 3 * static_cast<Index>(c->filters.size())).setConstant(of.filter_departure);
    at += 4 + 3 * static_cast<Index>(c->filters.size());
  }
  return out;
}

// Adds both sides' sensitivity with both loops' gains times `gain`; false where it is beyond twice the promise.
bool add_sides(ObjectiveValue& out, const SearchObjective& of, const SearchCase& c, double b_over_a, size_t i,
               const LawLine& law, double gain) {
  constexpr double kFar = 2;
  const double limit = gain == 1 ? of.limits.sensitivity : of.limits.other_gain_sensitivity;
  const LineSides sides = sides_of({c.g[i], gain * law.mean.response, gain * law.skew.response, c.share, b_over_a});
  VectorXd along(out.slope.size());
  for (const Sloped* side : {&sides.outside, &sides.inside}) {
    if (gain == 1 && !(side->value < 2 * std::log(kFar * limit))) return false;
    if (!(side->value > 2 * std::log(limit))) continue;
    slope_by_settings(*side, law, along);
    add_excess(out, side->value, limit, of.penalty * log_width(c.hz, i), gain * along);
  }
  return true;
}

void add_energies(CaseSums& sums, const LineEnergies& line, double hz, double width_hz, double period_s,
                  const LawLine& law) {
  const double per = width_hz / (hz * hz), white = 2 * period_s * width_hz;
  VectorXd along(sums.skew.slope.size());
  slope_by_settings(line.skew, law, along), sums.skew.add(line.skew, per, along);
  if (line.skew.value > 0) add_square(sums.skew_squares, per / line.skew.value, along);
  slope_by_settings(line.mean, law, along), sums.mean.add(line.mean, per, along);
  if (line.mean.value > 0) add_square(sums.mean_squares, per / line.mean.value, along);
  slope_by_settings(line.noise_a, law, along), sums.noise_a.add(line.noise_a, white, along);
  slope_by_settings(line.noise_b, law, along), sums.noise_b.add(line.noise_b, white, along);
}

// Adds the lines of a case; false where one is far beyond the limit.
bool add_case(ObjectiveValue& out, CaseSums& sums, const SearchObjective& of, const SearchCase& c, const Settings& s,
              const std::vector<LawLine>& law) {
  const double b_over_a = s.peak_force_b_n / s.peak_force_a_n;
  for (size_t i = 0; i < c.hz.size(); ++i) {
    if (!add_sides(out, of, c, b_over_a, i, law[i], 1)) return false;
    if (!c.counts_for_cost) continue;
    for (double gain : {least_gain, most_gain}) add_sides(out, of, c, b_over_a, i, law[i], gain);
    const LoopLine line{c.g[i], law[i].mean.response, law[i].skew.response, c.share, b_over_a};
    add_energies(sums, energies_of(line, of.limits), c.hz[i], line_width_hz(c.hz, i), s.period_s, law[i]);
  }
  return true;
}

}  // namespace

ObjectiveValue objective(const SearchObjective& of, const VectorXd& x) {
  const Settings s = settings_at(of.start, x);
  const ObjectiveValue broken{.value = std::numeric_limits<double>::infinity()};
  const MatrixXd flat = MatrixXd::Zero(x.size(), x.size());
  const VectorXd departure = departures(of);
  ObjectiveValue out{
      .value = departure.dot(x.cwiseAbs2()), .slope = 2 * departure.cwiseProduct(x), .curvature = flat};
  out.curvature.diagonal() = 2 * departure;
  add_ranges(out, s, of.penalty);
  const Sum none{0, VectorXd::Zero(x.size())};
  const auto counted = static_cast<double>(
      std::count_if(of.cases.begin(), of.cases.end(), [](const SearchCase& c) { return c.counts_for_cost; }));
  const std::vector<double>* asked = nullptr;
  std::vector<LawLine> law;
  for (const SearchCase& c : of.cases) {
    if (asked == nullptr || *asked != c.hz) law = law_on(c.hz, s), asked = &c.hz;
    CaseSums sums{none, none, none, none, flat, flat};
    if (!add_case(out, sums, of, c, s, law)) return broken;
    if (!c.counts_for_cost) continue;
    add_log(out, sums.skew, sums.skew_squares, 1 / counted);
    add_log(out, sums.mean, sums.mean_squares, mean_weight / counted);
    for (const Sum* noise : {&sums.noise_a, &sums.noise_b})
      add_noise(out, *noise, of.limits.noise_n, of.penalty / counted);
  }
  out.curvature.triangularView<Eigen::StrictlyUpper>() = out.curvature.transpose();
  return std::isfinite(out.value) && out.slope.allFinite() && out.curvature.allFinite() ? out : broken;
}

}  // namespace evenbeam::tuning
