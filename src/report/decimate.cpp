#include "report/decimate.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "base/check.h"

namespace evenbeam::report {
namespace {

// Samples of one pixel column, in their order.
struct Run {
  long column = 0;
  size_t count = 0;
  Point first, lowest, highest, last;
  size_t lowest_at = 0, highest_at = 0;  // order within the run
};

void add(Run& run, Point p) {
  if (run.count == 0) run.first = run.lowest = run.highest = p, run.lowest_at = run.highest_at = 0;
  if (p.y < run.lowest.y) run.lowest = p, run.lowest_at = run.count;
  if (p.y > run.highest.y) run.highest = p, run.highest_at = run.count;
  run.last = p;
  ++run.count;
}

void push_new(Piece& piece, Point p) {
  if (piece.empty() || piece.back().x != p.x || piece.back().y != p.y) piece.push_back(p);
}

void flush(Run& run, Piece& piece) {
  if (run.count == 0) return;
  push_new(piece, run.first);
  const bool low_first = run.lowest_at <= run.highest_at;
  push_new(piece, low_first ? run.lowest : run.highest);
  push_new(piece, low_first ? run.highest : run.lowest);
  push_new(piece, run.last);
  run.count = 0;
}

std::vector<Piece> by_columns(const std::vector<double>& x, const std::vector<double>& y, const Scale& scale_x,
                              const Scale& scale_y, double column) {
  std::vector<Piece> pieces;
  Piece piece;
  Run run;
  const auto end_piece = [&] {
    flush(run, piece);
    if (!piece.empty()) pieces.push_back(std::move(piece));
    piece.clear();
  };
  for (size_t i = 0; i < x.size(); ++i) {
    const Point p{place(scale_x, x[i]), place(scale_y, y[i])};
    if (!std::isfinite(p.x) || !std::isfinite(p.y)) {
      end_piece();
      continue;
    }
    const long here = std::lround(std::floor(p.x / column));
    if (run.count > 0 && here != run.column) flush(run, piece);
    run.column = here;
    add(run, p);
  }
  end_piece();
  return pieces;
}

size_t total(const std::vector<Piece>& pieces) {
  size_t count = 0;
  for (const Piece& piece : pieces) count += piece.size();
  return count;
}

}  // namespace

double place(const Scale& s, double value_si) {
  double v = value_si * s.factor, lo = s.lo, hi = s.hi;
  if (!std::isfinite(v)) return std::numeric_limits<double>::quiet_NaN();
  if (s.logarithmic) {
    if (v <= 0) return std::numeric_limits<double>::quiet_NaN();
    v = std::log10(v), lo = std::log10(lo), hi = std::log10(hi);
  }
  return s.at_lo + (v - lo) / (hi - lo) * (s.at_hi - s.at_lo);
}

std::vector<Piece> decimate_line(const std::vector<double>& x, const std::vector<double>& y, const Scale& scale_x,
                                 const Scale& scale_y, size_t most) {
  base::check(x.size() == y.size(), "a line has as many x as y values", {double(x.size()), double(y.size())});
  const double widest = std::abs(scale_x.at_hi - scale_x.at_lo);
  std::vector<Piece> pieces;
  for (double column = 1; column <= widest; column *= 2) {
    pieces = by_columns(x, y, scale_x, scale_y, column);
    if (total(pieces) <= most) return pieces;
  }
  // x jumps about so much (or gaps are so many) that no columns help: what is occupied is drawn as dots.
  pieces.clear();
  for (const Point& p : decimate_points(x, y, scale_x, scale_y, most)) pieces.push_back({p});
  return pieces;
}

Piece decimate_points(const std::vector<double>& x, const std::vector<double>& y, const Scale& scale_x,
                      const Scale& scale_y, size_t most) {
  base::check(x.size() == y.size(), "points have as many x as y values", {double(x.size()), double(y.size())});
  base::check(most >= 4, "at least four points may be drawn", {double(most)});
  for (double cell = 1;; cell *= 1.5) {
    std::set<std::pair<long, long>> occupied;
    Piece kept;
    for (size_t i = 0; i < x.size() && kept.size() <= most; ++i) {
      const Point p{place(scale_x, x[i]), place(scale_y, y[i])};
      if (!std::isfinite(p.x) || !std::isfinite(p.y)) continue;
      if (occupied.insert({std::lround(std::floor(p.x / cell)), std::lround(std::floor(p.y / cell))}).second)
        kept.push_back(p);
    }
    if (kept.size() <= most) return kept;
  }
}

std::vector<std::vector<BandPoint>> decimate_band(const std::vector<double>& x, const std::vector<double>& lower,
                                                  const std::vector<double>& upper, const Scale& scale_x,
                                                  const Scale& scale_y) {
  base::check(x.size() == lower.size() && x.size() == upper.size(), "a band has as many edges as x values",
              {double(x.size()), double(lower.size()), double(upper.size())});
  std::vector<std::vector<BandPoint>> pieces;
  bool joined = false;
  long column = 0;
  for (size_t i = 0; i < x.size(); ++i) {
    const double at = place(scale_x, x[i]), low = place(scale_y, lower[i]), high = place(scale_y, upper[i]);
    if (!std::isfinite(at) || !std::isfinite(low) || !std::isfinite(high)) {
      joined = false;
      continue;
    }
    const long here = std::lround(std::floor(at));
    if (!joined) pieces.emplace_back();
    std::vector<BandPoint>& piece = pieces.back();
    // Drawing units grow downwards or upwards; "lower" keeps the outermost of its own direction.
    const double direction = scale_y.at_hi < scale_y.at_lo ? -1 : 1;
    if (joined && here == column) {
      BandPoint& last = piece.back();
      last.lower = direction * std::min(direction * last.lower, direction * low);
      last.upper = direction * std::max(direction * last.upper, direction * high);
    } else {
      piece.push_back({at, low, high});
    }
    joined = true, column = here;
  }
  return pieces;
}

}  // namespace evenbeam::report
