#include "protection/nuisance.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::protection {
namespace {

using recording::Recording;

constexpr double kTwoSided95 = 1.96, kLeftOut = 0.1, kStraightens_s = 0.5;

double captured_error_m(const Recording& r, size_t i) {
  return (r.position_a_m[i] - r.position_b_m[i]) - (r.reference_a_m[i] - r.reference_b_m[i]);
}

// Relative spread of the peaks over draws of one place, the largest of all places.
double spread_of(const NuisanceInput& in) {
  const size_t places = in.range->coarse.size(), draws = places == 0 ? 0 : in.drawn.size() / places;
  double out = 0;
  for (size_t k = 0; k < places && draws >= 2; ++k) {
    const double nominal = in.range->coarse[k].peak_skew_m;
    double squares = 0;
    for (size_t d = 0; d < draws; ++d) {
      const double off = in.drawn[d * places + k].peak_skew_m - nominal;
      squares += off * off;
    }
    if (nominal > 0) out = std::max(out, std::sqrt(squares / static_cast<double>(draws)) / nominal);
  }
  return out;
}

struct Stroke {
  bool forward = false;
  double peak_m = 0;
};

std::vector<Stroke> strokes(const Recording& r) {
  std::vector<Stroke> out;
  const auto lag = std::max<size_t>(1, static_cast<size_t>(5e-3 / r.period_s));
  bool moving = false;
  for (size_t i = lag; i < r.time_s.size(); ++i) {
    const double step = r.reference_a_m[i] - r.reference_a_m[i - lag];
    if (!std::isfinite(step)) continue;
    const bool moves = std::abs(step) > 1e-6;
    if (moves && !moving) out.push_back({step > 0, 0});
    moving = moves;
    if (!out.empty() && std::isfinite(captured_error_m(r, i)))
      out.back().peak_m = std::max(out.back().peak_m, std::abs(captured_error_m(r, i)));
  }
  return out;
}

}  // namespace

double stroke_scatter(const std::vector<Recording>& recordings) {
  double squares = 0;
  int freedoms = 0;
  for (const Recording& r : recordings) {
    if (r.kind != recording::RunKind::test_move || !has_references(r) || !has_positions(r)) continue;
    const std::vector<Stroke> all = strokes(r);
    for (bool forward : {true, false}) {
      double sum = 0;
      int n = 0;
      for (const Stroke& s : all)
        if (s.forward == forward) sum += s.peak_m, ++n;
      if (n < 2 || !(sum > 0)) continue;
      for (const Stroke& s : all)
        if (s.forward == forward) squares += std::pow(s.peak_m * n / sum - 1, 2);
      freedoms += n - 1;
    }
  }
  return freedoms > 0 ? std::sqrt(squares / freedoms) : 0;
}

double over_own_forecast(const std::vector<Recording>& recordings, const std::vector<MoveForecast>& own) {
  double out = 1;
  for (const MoveForecast& f : own)
    for (const Recording& r : recordings) {
      if (r.name != f.name || !(f.peak_skew_m > 0) || !has_references(r) || !has_positions(r)) continue;
      double peak = 0;
      for (size_t i = 0; i < r.time_s.size(); ++i)
        if (std::isfinite(captured_error_m(r, i))) peak = std::max(peak, std::abs(captured_error_m(r, i)));
      out = std::max(out, peak / f.peak_skew_m);
    }
  return std::min(out, 3.0);
}

Nuisance nuisance(const NuisanceInput& in) {
  Nuisance out{.spread = spread_of(in), .scatter = in.scatter, .over_forecast = in.over_forecast};
  const double part = std::sqrt(out.spread * out.spread + in.scatter * in.scatter + kLeftOut * kLeftOut);
  out.part = part;
  double following = 0;
  const auto take = [&](double peak, double sd, const std::string& by) {
    const double level = in.over_forecast * peak + one_in_10000 * sd;
    if (level <= out.skew_m) return;
    out.skew_m = level, out.peak_skew_m = peak, out.by = by;
  };
  for (const OrdinaryMove& m : in.range->fine) {
    take(m.peak_skew_m, part * m.peak_skew_m, "a move");
    following = std::max(following, m.peak_following_m);
    if (in.straightening_m > 0)
      for (double way : {in.straightening_m, -in.straightening_m}) {
        const double peak = straightening_peak_m(m.model, way, in.straightening_m / kStraightens_s);
        out.straightening_m = std::max(out.straightening_m, peak);
        take(peak, part * peak, "a straightening");
      }
  }
  for (const OrdinaryMove& m : in.slow) take(m.peak_skew_m, part * m.peak_skew_m, "a jog or search");
  for (const MoveForecast& f : in.forecasts) {
    const double sd = std::max(0.0, f.upper_m - f.peak_skew_m) / kTwoSided95;
    take(f.peak_skew_m, std::hypot(sd, in.scatter * f.peak_skew_m), f.name);
  }
  out.skew_m += 3 * in.count_m;
  out.following_m = following * (1 + one_in_10000 * part) + 3 * in.count_m;
  return out;
}

}  // namespace evenbeam::protection
