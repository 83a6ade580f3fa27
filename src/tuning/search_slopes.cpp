#include "tuning/search_slopes.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>

#include "servo/law_response.h"
#include "servo/law_slopes.h"

namespace evenbeam::tuning {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using machine::Settings;
using math::Complex;
using math::Complex2x2;
using math::times;

struct Pair {
  Complex a, b;
};
Pair operator*(const Complex2x2& m, const Pair& x) {
  return {times(m.aa, x.a) + times(m.ab, x.b), times(m.ba, x.a) + times(m.bb, x.b)};
}
Pair row(const Pair& x, const Complex2x2& m) {
  return {times(x.a, m.aa) + times(x.b, m.ba), times(x.a, m.ab) + times(x.b, m.bb)};
}
Complex dot(const Pair& x, const Pair& y) { return times(x.a, y.a) + times(x.b, y.b); }

// A value that depends on both coordinates' responses: d value = Re(mean dC_m + skew dC_s).
struct Sloped {
  double value = 0;
  std::array<Complex, 2> by{};
};

struct Sides {
  Sloped outside, inside;  // ln S^2 of the output and of the input side
};
struct Energies {
  Sloped skew, mean;        // of the moves that a unit fight and a unit of both forces make
  Sloped noise_a, noise_b;  // variances of the outputs
};

// The loop at one line: both coordinates' parts of the law, the column that carries each to the sides and the row
// that reads it.
struct Line {
  const Complex2x2& g;
  Complex2x2 c;
  std::array<Pair, 2> left, right{Pair{1, 1}, Pair{1, -1}};
  double b_over_a = 1;  // peak forces

  Line(const Complex2x2& plant, Complex mean, Complex skew, double share, double ratio)
      : g(plant), left{Pair{share / 2, (1 - share) / 2}, Pair{1, -1}}, b_over_a(ratio) {
    const servo::SideResponse side = servo::combine(share, mean, skew);
    c = {side.aa, side.ab, side.ba, side.bb};
  }
};

constexpr Complex2x2 kOne{1, 0, 0, 1};

// ln of sigma_max(inverse of m)^2; `half_by`: slopes of half the squared Frobenius norm, `det_by` of ln det.
Sloped sensitivity(const Complex2x2& m, const std::array<Complex, 2>& half_by, const std::array<Complex, 2>& det_by) {
  const double half = 0.5 * (std::norm(m.aa) + std::norm(m.ab) + std::norm(m.ba) + std::norm(m.bb));
  const double square = std::norm(math::determinant(m));
  const double root = std::sqrt(std::max(half * half - square, 1e-24 * half * half));
  Sloped out{.value = std::log((half + root) / square)};
  for (size_t q = 0; q < 2; ++q) out.by[q] = half_by[q] / root - det_by[q] * (square / (root * (half + root)) + 2);
  return out;
}

// column row' against m, entry by entry: the slope of half m's squared Frobenius norm.
Complex norm_slope(const Complex2x2& m, const Pair& column, const Pair& across) {
  return times(std::conj(m.aa), times(column.a, across.a)) + times(std::conj(m.ab), times(column.a, across.b)) +
         times(std::conj(m.ba), times(column.b, across.a)) + times(std::conj(m.bb), times(column.b, across.b));
}

Sides sides_of(const Line& line) {
  const Complex2x2 outside = kOne + line.g * line.c, moves = math::inverse(outside) * line.g;
  Complex2x2 inside = kOne + line.c * line.g;
  const double ratio = line.b_over_a;
  inside.ab *= ratio, inside.ba /= ratio;
  std::array<Complex, 2> half_out, half_in, det;
  for (size_t q = 0; q < 2; ++q) {
    const Pair &left = line.left[q], &right = line.right[q], r_g = row(right, line.g);
    det[q] = dot(right, moves * left);
    half_out[q] = norm_slope(outside, line.g * left, right);
    half_in[q] = norm_slope(inside, {left.a, left.b / ratio}, {r_g.a, r_g.b * ratio});
  }
  return {sensitivity(outside, half_out, det), sensitivity(inside, half_in, det)};
}

Energies energies_of(const Line& line, const SearchLimits& limits) {
  const Complex2x2 sensitivity_of = math::inverse(kOne + line.g * line.c), moves = sensitivity_of * line.g;
  const Complex2x2 forces = line.c * sensitivity_of, rest = kOne - line.c * moves;
  const Complex skew_moves = moves.aa - moves.ab - moves.ba + moves.bb;
  const Complex mean_moves = (moves.aa + moves.ab + moves.ba + moves.bb) / 4.0;
  const double qa = limits.count_a_m * limits.count_a_m / 12, qb = limits.count_b_m * limits.count_b_m / 12;
  Energies out;
  for (size_t q = 0; q < 2; ++q) {
    const Pair &left = line.left[q], &right = line.right[q];
    const Pair t_left = moves * left, r_t = row(right, moves), r_z = row(right, sensitivity_of), pushed = rest * left;
    out.skew.by[q] = -2.0 * times(std::conj(skew_moves), times(t_left.a - t_left.b, r_t.a - r_t.b));
    out.mean.by[q] = -0.5 * times(std::conj(mean_moves), times(t_left.a + t_left.b, r_t.a + r_t.b));
    out.noise_a.by[q] =
        2.0 * times(pushed.a, qa * times(std::conj(forces.aa), r_z.a) + qb * times(std::conj(forces.ab), r_z.b));
    out.noise_b.by[q] =
        2.0 * times(pushed.b, qa * times(std::conj(forces.ba), r_z.a) + qb * times(std::conj(forces.bb), r_z.b));
  }
  out.skew.value = std::norm(skew_moves), out.mean.value = std::norm(mean_moves);
  out.noise_a.value = std::norm(forces.aa) * qa + std::norm(forces.ab) * qb;
  out.noise_b.value = std::norm(forces.ba) * qa + std::norm(forces.bb) * qb;
  return out;
}

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

// Ranges in which the law and its person can follow a setting: damping 0.05..2 keeps a notch wider than what carriage
// and temperature move a mode (common practice, no source).
struct Range {
  double low = 0, high = std::numeric_limits<double>::infinity();
};
std::vector<Range> ranges_of(const Settings& s) {
  const double top_hz = 0.45 / s.period_s;
  std::vector<Range> out;
  for (const machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    out.insert(out.end(), {Range{}, Range{20 * s.period_s}, Range{}, Range{20, top_hz}});
    for (size_t i = 0; i < c->filters.size(); ++i)
      out.insert(out.end(), {Range{10, top_hz / 2}, Range{0.05, 2}, Range{0.1, 2}});
  }
  return out;
}

std::vector<double*> variables(Settings& s) {
  std::vector<double*> out;
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    out.insert(out.end(), {&c->velocity_gain_n_s_per_m, &c->velocity_integral_s, &c->position_gain_per_s,
                           &c->velocity_filter_hz});
    for (machine::Biquad& f : c->filters) out.insert(out.end(), {&f.hz, &f.zn, &f.zd});
  }
  return out;
}

// The same for settings outside their ranges, in their logarithms.
void add_ranges(ObjectiveValue& out, Settings s, double weight) {
  const std::vector<Range> ranges = ranges_of(s);
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

}  // namespace

Index search_variables(const Settings& start) {
  return static_cast<Index>(8 + 3 * (start.mean.filters.size() + start.skew.filters.size()));
}

Settings settings_at(const Settings& start, const VectorXd& x) {
  Settings s = start;
  const auto all = variables(s);
  for (size_t i = 0; i < all.size(); ++i) *all[i] *= std::exp(x[static_cast<Index>(i)]);
  return s;
}

VectorXd logarithms(const Settings& start, const Settings& settings) {
  Settings from = start, to = settings;
  const auto low = variables(from), high = variables(to);
  VectorXd x(static_cast<Index>(low.size()));
  for (size_t i = 0; i < low.size(); ++i) x[static_cast<Index>(i)] = std::log(*high[i] / *low[i]);
  return x;
}

Settings inside_ranges(Settings start) {
  const std::vector<Range> ranges = ranges_of(start);
  const auto x = variables(start);
  for (size_t i = 0; i < x.size(); ++i) *x[i] = std::clamp(*x[i], ranges[i].low, ranges[i].high);
  return start;
}

namespace {

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
  const Line line(c.g[i], gain * law.mean.response, gain * law.skew.response, c.share, b_over_a);
  const Sides sides = sides_of(line);
  VectorXd along(out.slope.size());
  for (const Sloped* side : {&sides.outside, &sides.inside}) {
    if (gain == 1 && !(side->value < 2 * std::log(kFar * limit))) return false;
    if (!(side->value > 2 * std::log(limit))) continue;
    slope_by_settings(*side, law, along);
    add_excess(out, side->value, limit, of.penalty * log_width(c.hz, i), gain * along);
  }
  return true;
}

void add_energies(CaseSums& sums, const Energies& line, double hz, double width_hz, double period_s,
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
    const Line line(c.g[i], law[i].mean.response, law[i].skew.response, c.share, b_over_a);
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
