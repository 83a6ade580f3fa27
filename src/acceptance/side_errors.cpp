#include "acceptance/side_errors.h"

#include <cmath>
#include <numbers>

#include "acceptance/prove_figures.h"
#include "acceptance/prove_findings.h"
#include "signal/fft.h"

namespace evenbeam::acceptance {

namespace {

struct Mean {
  double sum = 0;
  std::size_t samples = 0;
  void add(double x) {
    if (std::isfinite(x)) sum += x, ++samples;
  }
  std::optional<double> value() const { return samples > 0 ? std::optional(sum / double(samples)) : std::nullopt; }
};

std::optional<double> mean_over(const std::vector<double>& x, std::size_t from, std::size_t to) {
  Mean mean;
  for (std::size_t i = from; i < to; ++i) mean.add(x[i]);
  return mean.value();
}

// Second half of a rest: what has settled.
std::pair<std::size_t, std::size_t> settled(std::size_t from, std::size_t to) { return {from + (to - from) / 2, to}; }

}  // namespace

Spectrum spectrum_of(const std::vector<double>& x, double period_s) {
  Spectrum out;
  const std::size_t n = x.size();
  if (n < 16) return out;
  const double mean = mean_over(x, 0, n).value_or(0);
  std::vector<double> windowed(n);
  double power = 0;
  for (std::size_t i = 0; i < n; ++i) {
    const double w = 0.5 - 0.5 * std::cos(2 * std::numbers::pi * (double(i) + 0.5) / double(n));
    power += w * w / double(n);
    windowed[i] = std::isfinite(x[i]) ? w * (x[i] - mean) : 0;  // a missing sample adds nothing
  }
  const auto lines = signal::forward_transform(windowed);
  for (std::size_t k = 1; k < lines.size(); ++k) {
    out.hz.push_back(double(k) / (double(n) * period_s));
    out.rms_m.push_back(std::abs(lines[k]) * std::numbers::sqrt2 / (double(n) * std::sqrt(power)));
  }
  return out;
}

std::optional<double> reversal_skew_m(const MoveMeasures& m) {
  Mean forth, back;
  for (const Stroke& stroke : m.phases.strokes)
    for (std::size_t i = stroke.from; i < stroke.to; ++i)
      if (m.phases.of_sample[i] == Phase::cruise) (stroke.direction > 0 ? forth : back).add(m.errors.skew_m[i]);
  if (!forth.value() || !back.value()) return {};
  return (*forth.value() - *back.value()) / 2;
}

std::optional<Drift> drift_of(const recording::Recording& rec, const MoveMeasures& m) {
  struct Rest {
    std::size_t from, to;
    double place_m;
  };
  std::vector<Rest> rests;
  const auto add = [&](std::size_t from, std::size_t to) {
    if (to < from + 20) return;
    const auto [begin, end] = settled(from, to);
    rests.push_back({begin, end, (rec.reference_a_m[begin] + rec.reference_b_m[begin]) / 2});
  };
  if (m.phases.strokes.empty()) return {};
  add(0, m.phases.strokes.front().from);
  for (const Stroke& stroke : m.phases.strokes) add(stroke.to, stroke.rest_to);
  const double near_m = 0.01 * std::abs(m.phases.strokes.front().distance_m);
  for (std::size_t last = rests.size(); last-- > 1;) {
    if (std::abs(rests[last].place_m - rests[0].place_m) > near_m) continue;
    const Rest &p = rests[0], &q = rests[last];
    const auto before = mean_over(m.errors.skew_m, p.from, p.to), after = mean_over(m.errors.skew_m, q.from, q.to);
    if (!before || !after) return {};
    Drift out{.skew_m = *after - *before, .over_s = rec.time_s[q.from] - rec.time_s[p.from]};
    if (recording::has_forces(rec)) {
      const auto fight = [&](const Rest& r) -> std::optional<double> {
        const auto a = mean_over(rec.force_a_n, r.from, r.to), b = mean_over(rec.force_b_n, r.from, r.to);
        return a && b ? std::optional((*a - *b) / 2) : std::nullopt;
      };
      if (fight(p) && fight(q)) out.fight_n = *fight(q) - *fight(p);
    }
    return out;
  }
  return {};
}

base::Figure spectrum_figure(const recording::Recording& rec, const MoveMeasures& m) {
  base::Panel panel{.x = {.label = "frequency", .unit = "Hz", .logarithmic = true},
                    .y = {.label = "following error, RMS a line", .unit = "m", .logarithmic = true}};
  const auto add = [&](base::Role role, const char* label, const std::vector<double>& error) {
    const Spectrum s = spectrum_of(error, rec.period_s);
    base::Line line{.role = role, .label = label};
    thin(s.hz, s.rms_m, 400, line);
    panel.lines.push_back(std::move(line));
  };
  add(base::Role::side_a, "A", m.errors.a_m);
  add(base::Role::side_b, "B", m.errors.b_m);
  return {.id = "prove_spectrum_" + slug(rec.name),
          .title = "Where the following errors lie in frequency, " + rec.name,
          .caption =
              "Lines of the whole record, Hann window. A peak on one side alone is that side's own; one on both "
              "belongs to the bridge or to the reference.",
          .panels = {panel}};
}

}  // namespace evenbeam::acceptance
