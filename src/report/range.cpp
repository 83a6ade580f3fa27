#include "report/range.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::report {
namespace {

// How far, in spans of the data, a limit's edge or an interval may stretch the axis.
constexpr double limit_reach = 1.2, interval_reach = 1.0;

struct Reach {
  double lo, hi;
};

Reach reach(const Range& data, double spans, bool logarithmic) {
  if (logarithmic) {
    const double factor = std::pow(data.hi / data.lo, spans) * 3;
    return {data.lo / factor, data.hi * factor};
  }
  const double span = data.hi > data.lo ? data.hi - data.lo : std::abs(data.hi);
  return {data.lo - spans * span, data.hi + spans * span};
}

Range padded(Range r, bool logarithmic, double part) {
  if (!known(r)) return logarithmic ? Range{1, 10} : Range{0, 1};
  if (logarithmic) {
    const double factor = r.hi > r.lo ? std::pow(r.hi / r.lo, part) : 2;
    return {r.lo / factor, r.hi * factor};
  }
  const double size = std::max(std::abs(r.lo), std::abs(r.hi));
  // A span below double's resolution of the numbers themselves cannot carry ticks.
  if (r.hi - r.lo <= 1e-12 * size) return size > 0 ? Range{r.lo - 0.1 * size, r.hi + 0.1 * size} : Range{-1, 1};
  const double air = part * (r.hi - r.lo);
  return {r.lo - air, r.hi + air};
}

void include_within(Range& range, double value, const Reach& limits, bool logarithmic) {
  if (!std::isfinite(value)) return;
  include(range, std::clamp(value, limits.lo, limits.hi), logarithmic);
}

}  // namespace

void include(Range& range, double value, bool logarithmic) {
  if (!std::isfinite(value) || (logarithmic && value <= 0)) return;
  range.lo = std::min(range.lo, value);
  range.hi = std::max(range.hi, value);
}

Range x_data(const base::Panel& panel, double factor) {
  Range range;
  for (const base::Line& line : panel.lines)
    for (const double x : line.x) include(range, x * factor, panel.x.logarithmic);
  return range;
}

Range y_range(const base::Panel& panel, double factor) {
  const bool logarithmic = panel.y.logarithmic;
  Range data;
  for (const base::Line& line : panel.lines)
    for (const double y : line.y) include(data, y * factor, logarithmic);
  Range range = data;
  if (known(data)) {
    const Reach interval = reach(data, interval_reach, logarithmic), limit = reach(data, limit_reach, logarithmic);
    for (const base::Line& line : panel.lines) {
      for (const double y : line.lower) include_within(range, y * factor, interval, logarithmic);
      for (const double y : line.upper) include_within(range, y * factor, interval, logarithmic);
    }
    for (const base::Band& band : panel.bands) {
      if (band.along_x) continue;
      for (const double edge : {band.from * factor, band.to * factor})
        if (edge >= limit.lo && edge <= limit.hi) include(range, edge, logarithmic);
    }
  } else {
    for (const base::Line& line : panel.lines) {
      for (const double y : line.lower) include(range, y * factor, logarithmic);
      for (const double y : line.upper) include(range, y * factor, logarithmic);
    }
  }
  return padded(range, logarithmic, 0.08);
}

Range x_range(const std::vector<const base::Panel*>& panels, double factor) {
  Range range;
  bool points = false, logarithmic = false;
  for (const base::Panel* panel : panels) {
    const Range one = x_data(*panel, factor);
    logarithmic = panel->x.logarithmic;
    if (known(one)) include(range, one.lo, logarithmic), include(range, one.hi, logarithmic);
    for (const base::Line& line : panel->lines) points = points || line.stroke == base::Stroke::points;
  }
  const bool single = known(range) && !(range.hi > range.lo);
  return padded(range, logarithmic, points || single ? 0.04 : 0.0);
}

}  // namespace evenbeam::report
