#include "acceptance/strokes.h"

#include <algorithm>
#include <cmath>

#include "base/check.h"

namespace evenbeam::acceptance {

namespace {

constexpr double speed_part = 2e-3;         // of the top speed: slower is rest
constexpr double acceleration_part = 0.05;  // of the largest: less is cruise
constexpr double shortest_part = 1e-3;      // of the longest stroke: shorter ones are digits, not moves

std::vector<double> central_difference(const std::vector<double>& x, std::size_t half, double period_s) {
  std::vector<double> out(x.size(), 0.0);
  for (std::size_t i = 0; i < x.size(); ++i) {
    const std::size_t low = i >= half ? i - half : 0, high = std::min(i + half, x.size() - 1);
    if (high > low) out[i] = (x[high] - x[low]) / (double(high - low) * period_s);
  }
  return out;
}

double largest(const std::vector<double>& x) {
  double out = 0;
  for (const double v : x)
    if (std::isfinite(v)) out = std::max(out, std::abs(v));
  return out;
}

// Smallest step of the reference: what its digits can hide.
double quantum(const std::vector<double>& r) {
  double out = 0;
  for (std::size_t i = 1; i < r.size(); ++i) {
    const double step = std::abs(r[i] - r[i - 1]);
    if (step > 1e-12 && (out == 0 || step < out)) out = step;
  }
  return out;
}

std::vector<Stroke> rough_strokes(const std::vector<double>& v, double threshold) {
  std::vector<Stroke> out;
  for (std::size_t i = 0; i < v.size(); ++i) {
    const int direction = v[i] > threshold ? 1 : v[i] < -threshold ? -1 : 0;
    if (direction == 0) continue;
    if (out.empty() || out.back().to != i || out.back().direction != direction)
      out.push_back({.from = i, .to = i, .direction = direction});
    out.back().to = i + 1;
    out.back().top_speed_m_per_s = std::max(out.back().top_speed_m_per_s, std::abs(v[i]));
  }
  return out;
}

// Moves each end to where the reference leaves or reaches the value it has in the middle of the rest beside it.
void sharpen(const std::vector<double>& r, double step, std::vector<Stroke>& strokes) {
  const double near = 1.5 * step;
  for (std::size_t k = 0; k < strokes.size(); ++k) {
    const bool last = k + 1 == strokes.size();
    Stroke& s = strokes[k];
    const std::size_t rest_from = s.to, rest_to = last ? r.size() : strokes[k + 1].from;
    s.rest_to = rest_to;
    s.rest_cut = last;
    if (k == 0) {
      std::size_t i = s.from / 2;
      const double before = r[i];
      while (i < s.from && std::abs(r[i] - before) <= near) ++i;
      s.from = i;
    }
    if (rest_from + 2 >= rest_to) continue;  // the file ends, or the way back begins, in motion
    const std::size_t middle = (rest_from + rest_to - 1) / 2;
    s.stop_seen = true;
    while (s.to < middle && std::abs(r[s.to] - r[middle]) > near) ++s.to;
    if (last) continue;
    std::size_t i = middle;
    while (i < rest_to && std::abs(r[i] - r[middle]) <= near) ++i;
    strokes[k + 1].from = s.rest_to = i;
  }
}

}  // namespace

std::string to_text(Phase phase) {
  switch (phase) {
    case Phase::rest:
      return "rest";
    case Phase::acceleration:
      return "acceleration";
    case Phase::cruise:
      return "cruise";
    case Phase::deceleration:
      return "deceleration";
  }
  base::check(false, "a phase is one of four");
  return {};
}

Phases find_phases(const recording::Recording& rec) {
  base::check(recording::has_references(rec) && rec.period_s > 0, "phases need references and a period");
  const std::size_t n = rec.reference_a_m.size();
  std::vector<double> r(n);
  double last = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double mean = (rec.reference_a_m[i] + rec.reference_b_m[i]) / 2;
    last = r[i] = std::isfinite(mean) ? mean : last;
  }
  Phases out;
  out.of_sample.assign(n, Phase::rest);
  if (n < 8) return out;
  const std::size_t half = std::max<std::size_t>(1, std::size_t(std::lround(difference_s / rec.period_s)));
  const double window_s = 2 * double(half) * rec.period_s;
  const double step = quantum(r);
  const std::vector<double> v = central_difference(r, half, rec.period_s);
  const std::vector<double> a = central_difference(v, half, rec.period_s);
  if (!(largest(v) > 0)) return out;
  out.strokes = rough_strokes(v, std::max(speed_part * largest(v), 1.5 * step / window_s));
  sharpen(r, step, out.strokes);
  double longest = 0;
  for (Stroke& s : out.strokes) {
    s.distance_m = r[std::min(s.to, n - 1)] - r[s.from > 0 ? s.from - 1 : 0];
    longest = std::max(longest, std::abs(s.distance_m));
  }
  std::erase_if(out.strokes, [&](const Stroke& s) { return std::abs(s.distance_m) < shortest_part * longest; });
  const double threshold = std::max(acceleration_part * largest(a), 3 * step / (window_s * window_s));
  for (const Stroke& s : out.strokes)
    for (std::size_t i = s.from; i < s.to; ++i)
      out.of_sample[i] = std::abs(a[i]) <= threshold ? Phase::cruise
                         : a[i] * s.direction > 0    ? Phase::acceleration
                                                     : Phase::deceleration;
  return out;
}

std::pair<std::size_t, std::size_t> longest_run(const Phases& phases, Phase phase, std::size_t from, std::size_t to) {
  std::pair<std::size_t, std::size_t> best{from, from};
  for (std::size_t i = from; i < to;) {
    if (phases.of_sample[i] != phase) {
      ++i;
      continue;
    }
    std::size_t j = i;
    while (j < to && phases.of_sample[j] == phase) ++j;
    if (j - i > best.second - best.first) best = {i, j};
    i = j;
  }
  return best;
}

}  // namespace evenbeam::acceptance
