#include "acceptance/circle_move.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "acceptance/move_measures.h"
#include "base/check.h"

namespace evenbeam::acceptance {

namespace {

constexpr double turn_rad = 2 * std::numbers::pi;
constexpr double even_feed = 0.05;        // of its median
constexpr double slow_part = 0.02;        // of the top speed: slower is no motion
constexpr double on_circle = 1e-3;        // of the radius: further off is the way in or out
constexpr double may_lack_rad = 0.01;     // of a whole turn: where it creeps into its stop
constexpr std::size_t angles = 3600;      // for H
constexpr std::size_t least_points = 36;  // of a turn: every ten degrees

struct Commanded {
  std::vector<math::Point> at;
  std::vector<double> speed_m_per_s;
};

Commanded commanded_of(const recording::Recording& rec) {
  Commanded out;
  const std::size_t n = rec.time_s.size();
  for (std::size_t i = 0; i < n; ++i)
    out.at.push_back({(rec.reference_a_m[i] + rec.reference_b_m[i]) / 2, rec.reference_y_m[i]});
  const std::size_t half = std::max<std::size_t>(1, std::size_t(std::lround(difference_s / rec.period_s)));
  for (std::size_t i = 0; i < n; ++i) {
    const std::size_t low = i >= half ? i - half : 0, high = std::min(i + half, n - 1);
    const double way_m = std::hypot(out.at[high].x_m - out.at[low].x_m, out.at[high].y_m - out.at[low].y_m);
    out.speed_m_per_s.push_back(std::isfinite(way_m) ? way_m / (double(high - low) * rec.period_s) : 0);
  }
  return out;
}

bool finite(const math::Point& p) { return std::isfinite(p.x_m) && std::isfinite(p.y_m); }

double off(const math::Point& p, const math::FittedCircle& c) {
  return std::abs(std::hypot(p.x_m - c.centre_x_m, p.y_m - c.centre_y_m) - c.radius_m);
}

// The circle most of the commanded path lies on: the way in and out is dropped step by step.
math::CircleFit commanded_circle(const Commanded& r) {
  const double top = *std::max_element(r.speed_m_per_s.begin(), r.speed_m_per_s.end());
  std::vector<math::Point> moving;
  for (std::size_t i = 0; i < r.at.size(); ++i)
    if (finite(r.at[i]) && r.speed_m_per_s[i] > slow_part * top) moving.push_back(r.at[i]);
  std::vector<math::Point> kept = moving;
  math::CircleFit fit;
  for (int step = 0; step < 30; ++step) {
    fit = math::fit_circle(kept);
    if (!fit.found) return fit;
    std::vector<double> distances;
    for (const math::Point& p : moving) distances.push_back(off(p, fit.circle));
    std::vector<double> sorted = distances;
    const auto middle = sorted.begin() + std::ptrdiff_t(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    const double near = std::max(2 * *middle, on_circle * fit.circle.radius_m / 10);
    std::vector<math::Point> next;
    for (std::size_t i = 0; i < moving.size(); ++i)
      if (distances[i] <= near) next.push_back(moving[i]);
    if (next.size() == kept.size()) break;
    kept = std::move(next);
  }
  return fit;
}

// Samples [from, to) on the circle in one direction; sweep counted from `from`.
struct Run {
  std::size_t from = 0, to = 0;
  bool anticlockwise = true;
};

double step_of(const std::vector<double>& angle, std::size_t i) {
  return std::remainder(angle[i] - angle[i - 1], turn_rad);
}

std::vector<Run> runs_on(const Commanded& r, const math::FittedCircle& circle, std::vector<double>& angle) {
  const double top = *std::max_element(r.speed_m_per_s.begin(), r.speed_m_per_s.end());
  std::vector<Run> out;
  angle.assign(r.at.size(), 0);
  for (std::size_t i = 0; i < r.at.size(); ++i) {
    angle[i] = std::atan2(r.at[i].y_m - circle.centre_y_m, r.at[i].x_m - circle.centre_x_m);
    const bool in = finite(r.at[i]) && r.speed_m_per_s[i] > slow_part * top &&
                    off(r.at[i], circle) <= on_circle * circle.radius_m;
    if (!in || i == 0) continue;
    const double step = step_of(angle, i);
    if (step == 0 && !out.empty() && out.back().to == i) {  // a reference refreshed more slowly than recorded
      out.back().to = i + 1;
      continue;
    }
    if (out.empty() || out.back().to != i || out.back().anticlockwise != (step > 0)) out.push_back({i, i, step > 0});
    out.back().to = i + 1;
  }
  return out;
}

double median_of(std::vector<double> x) {
  std::nth_element(x.begin(), x.begin() + std::ptrdiff_t(x.size() / 2), x.end());
  return x[x.size() / 2];
}

// Ends with uneven feed taken off.
Run even_part(const Run& run, const std::vector<double>& speed) {
  const double median = median_of({speed.begin() + std::ptrdiff_t(run.from), speed.begin() + std::ptrdiff_t(run.to)});
  Run out = run;
  const auto even = [&](std::size_t i) { return std::abs(speed[i] - median) <= even_feed * median; };
  while (out.from < out.to && !even(out.from)) ++out.from;
  while (out.to > out.from && !even(out.to - 1)) --out.to;
  return out;
}

// Whole turns from the run's beginning on.
std::vector<Run> whole_turns(const Run& run, const std::vector<double>& angle) {
  std::vector<Run> out;
  double swept = 0;
  std::size_t from = run.from;
  for (std::size_t i = run.from + 1; i < run.to; ++i) {
    const double step = std::abs(step_of(angle, i));
    swept += step;
    const bool last = i + 1 == run.to;
    const double lacking = last ? std::max(2 * step, may_lack_rad) : 1e-9;
    if (swept < turn_rad - lacking) continue;
    if (i + 1 - from >= least_points) out.push_back({from, i + 1, run.anticlockwise});
    from = i;
    swept = 0;
  }
  return out;
}

Turn turn_of(const Run& run, const Commanded& r, const std::vector<math::Point>& path,
             const math::FittedCircle& commanded) {
  Turn out{.anticlockwise = run.anticlockwise, .from = run.from, .to = run.to};
  double speed = 0;
  for (std::size_t i = run.from; i < run.to; ++i) {
    speed += r.speed_m_per_s[i] / double(run.to - run.from);
    if (finite(path[i])) out.path.push_back(path[i]);
  }
  out.feed_m_per_s = speed;
  for (std::size_t i = run.from; i < run.to; ++i)
    out.start_or_stop_in = out.start_or_stop_in || std::abs(r.speed_m_per_s[i] - speed) > 2 * even_feed * speed;
  const math::CircleFit fit = math::fit_circle(out.path);
  out.deviation_m = fit.found ? fit.circle.deviation_m : std::nan("");
  out.outermost_m = -1e300, out.innermost_m = 1e300;
  for (const math::Polar& p : math::polar_about(out.path, commanded.centre_x_m, commanded.centre_y_m)) {
    out.outermost_m = std::max(out.outermost_m, p.radius_m - commanded.radius_m);
    out.innermost_m = std::min(out.innermost_m, p.radius_m - commanded.radius_m);
  }
  return out;
}

std::vector<math::Point> path_of(const recording::Recording& rec, const Commanded& r, double span_m) {
  const Errors e = errors_of(rec);
  std::vector<math::Point> out;
  for (std::size_t i = 0; i < r.at.size(); ++i) {
    const double y_m = rec.position_y_m[i];
    out.push_back({r.at[i].x_m + e.mean_m[i] - y_m / span_m * e.skew_m[i], y_m});
  }
  return out;
}

void add_both_ways(CircleMove& out) {
  for (std::size_t k = 0; k < out.turns.size(); ++k) {
    auto& worst = out.turns[k].anticlockwise ? out.worst_anticlockwise : out.worst_clockwise;
    if (!worst || out.turns[k].deviation_m > out.turns[*worst].deviation_m) worst = k;
  }
  if (!out.worst_anticlockwise || !out.worst_clockwise) return;
  const std::vector<math::Point>& one = out.turns[*out.worst_anticlockwise].path;
  const std::vector<math::Point>& other = out.turns[*out.worst_clockwise].path;
  std::vector<math::Point> all = one;
  all.insert(all.end(), other.begin(), other.end());
  const math::CircleFit fit = math::fit_circle(all);
  if (!fit.found) return;
  out.bidirectional_m = fit.circle.deviation_m;
  out.hysteresis_m =
      math::largest_radial_difference(one, other, fit.circle.centre_x_m, fit.circle.centre_y_m, angles);
}

}  // namespace

std::string columns_missing(const recording::Recording& rec) {
  std::string out;
  const auto need = [&](const std::vector<double>& column, const char* name) {
    if (column.empty()) out += (out.empty() ? "" : ", ") + std::string(name);
  };
  need(rec.reference_a_m, "reference_a");
  need(rec.reference_b_m, "reference_b");
  need(rec.position_a_m, "position_a");
  need(rec.position_b_m, "position_b");
  need(rec.reference_y_m, "reference_y");
  need(rec.position_y_m, "position_y");
  return out;
}

CircleMove judge_circle(const recording::Recording& rec, double span_m) {
  base::check(columns_missing(rec).empty() && rec.period_s > 0 && span_m > 0, "a circle has all its columns");
  CircleMove out{.recording = &rec};
  out.radius_doubt_m = std::hypot(std::max(rec.count_a_m, rec.count_b_m), rec.count_y_m) / 2;
  if (rec.time_s.size() < least_points) {
    out.trouble = "the file is too short";
    return out;
  }
  const Commanded r = commanded_of(rec);
  const math::CircleFit fit = commanded_circle(r);
  std::vector<double> angle;
  std::vector<Run> runs;
  if (fit.found) runs = runs_on(r, fit.circle, angle);
  if (runs.empty()) {
    out.trouble = "the references of both axes do not lie on a circle";
    return out;
  }
  out.radius_m = fit.circle.radius_m, out.centre_x_m = fit.circle.centre_x_m, out.centre_y_m = fit.circle.centre_y_m;
  const std::vector<math::Point> path = path_of(rec, r, span_m);
  double furthest = 0;
  for (const Run& run : runs) {
    double swept = 0;
    for (std::size_t i = run.from + 1; i < run.to; ++i) swept += std::abs(step_of(angle, i));
    furthest = std::max(furthest, swept);
    std::vector<Run> turns = whole_turns(even_part(run, r.speed_m_per_s), angle);
    if (turns.empty()) turns = whole_turns(run, angle);
    for (const Run& turn : turns) {
      Turn judged = turn_of(turn, r, path, fit.circle);
      if (std::isfinite(judged.deviation_m)) out.turns.push_back(std::move(judged));
    }
  }
  if (out.turns.empty())
    out.trouble = fmt::format("no whole turn in one direction: at most {:.0f} degrees", furthest * 360 / turn_rad);
  add_both_ways(out);
  return out;
}

}  // namespace evenbeam::acceptance
