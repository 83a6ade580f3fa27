#include "protection/ordinary_envelope.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "protection/stepper.h"

namespace evenbeam::protection {
namespace {

constexpr int kLooks = 4;     // a piece
constexpr int kCells = 24;    // of speed, and of acceleration
constexpr int kNarrows = 30;  // golden sections: 1e-6 of the range
constexpr double kGolden = 0.6180339887498949;

struct Look {
  double skew_m = 0, speed = 0, acceleration = 0;
  int count = 0;
};

struct Looks {
  std::vector<Look> moving;  // one a cell
  double at_rest_m = 0;
};

template <class See>
void for_each_look(const std::vector<const OrdinaryMove*>& moves, See see) {
  for (const OrdinaryMove* m : moves)
    for (size_t i = 0; i + 1 < m->pieces.size(); ++i) {
      const OrdinaryPiece& piece = m->pieces[i];
      const double length = m->pieces[i + 1].from_s - piece.from_s;
      const Series one = series(m->model, piece.mode, piece.state, length);
      for (int k = 1; k <= kLooks; ++k) {
        const State z = at(one, length * k / kLooks);
        see(z, watched_at(m->model, piece.mode, z));
      }
    }
}

double mean_level(const Looks& looks, const GrowingLevel& level) {
  double sum = 0;
  int n = 0;
  for (const Look& l : looks.moving) sum += l.count * level_m(level, l.speed, l.acceleration), n += l.count;
  return sum / std::max(1, n);
}

// The least slope on acceleration that lifts `level` over every look; a look without acceleration cannot be lifted by
// it.
double least_slope(const Looks& looks, const GrowingLevel& level, bool& possible) {
  double slope = 0;
  for (const Look& l : looks.moving) {
    const double lacks = l.skew_m - level_m(level, l.speed, l.acceleration);
    if (lacks <= 0) continue;
    if (!(l.acceleration > 0)) return possible = false, 0;
    slope = std::max(slope, lacks / l.acceleration);
  }
  return slope;
}

double golden(double low, double high, const std::function<double(double)>& cost) {
  double first = high - kGolden * (high - low), second = low + kGolden * (high - low);
  double at_first = cost(first), at_second = cost(second);
  for (int i = 0; i < kNarrows; ++i) {
    if (at_first <= at_second) {
      high = second, second = first, at_second = at_first;
      first = high - kGolden * (high - low), at_first = cost(first);
    } else {
      low = first, first = second, at_first = at_second;
      second = low + kGolden * (high - low), at_second = cost(second);
    }
  }
  return high;  // the side on which looks are covered
}

// Best slope on speed and acceleration over a level at rest.
GrowingLevel best_slopes(const Looks& looks, double at_rest_m, double most_per_speed) {
  const auto with = [&](double per_speed) {
    GrowingLevel tried{at_rest_m, per_speed, 0};
    bool possible = true;
    tried.per_acceleration_s2 = least_slope(looks, tried, possible);
    return possible ? tried : GrowingLevel{never_s, 0, 0};
  };
  return with(golden(0, most_per_speed, [&](double s) {
    const GrowingLevel tried = with(s);
    return std::isfinite(tried.at_rest_m) ? mean_level(looks, tried) : 1e6 * (1 + most_per_speed - s);
  }));
}

GrowingLevel least_level(const Looks& looks, double peak_m) {
  double slowest = never_s;
  for (const Look& l : looks.moving)
    if (l.speed > 0) slowest = std::min(slowest, l.speed);
  const double most_per_speed = std::isfinite(slowest) ? peak_m / slowest : 0;
  const double rest = golden(looks.at_rest_m, std::max(peak_m, looks.at_rest_m), [&](double at_rest) {
    const GrowingLevel tried = best_slopes(looks, at_rest, most_per_speed);
    return std::isfinite(tried.at_rest_m) ? mean_level(looks, tried) : 1e12 * (1 + peak_m - at_rest);
  });
  const GrowingLevel found = best_slopes(looks, rest, most_per_speed);
  return std::isfinite(found.at_rest_m) ? found : GrowingLevel{.at_rest_m = std::max(peak_m, looks.at_rest_m)};
}

}  // namespace

double level_m(const GrowingLevel& level, double speed, double acceleration) {
  return level.at_rest_m + level.per_speed_s * std::abs(speed) + level.per_acceleration_s2 * std::abs(acceleration);
}

Demand demand_of(const std::vector<const OrdinaryMove*>& moves) {
  Demand out;
  for_each_look(moves, [&](const State& z, const Watched& w) {
    out.reference_m_per_s = std::max(out.reference_m_per_s, std::abs(z[v_ref]));
    out.speed_m_per_s = std::max({out.speed_m_per_s, std::abs(z[v_a]), std::abs(z[v_b])});
    out.command_a_n = std::max(out.command_a_n, std::abs(w[wanted_a]));
    out.command_b_n = std::max(out.command_b_n, std::abs(w[wanted_b]));
  });
  return out;
}

OrdinaryEnvelope envelope_of(const std::vector<const OrdinaryMove*>& moves, double straightening_m) {
  OrdinaryEnvelope out{.demand = demand_of(moves)};
  std::vector<Look> all;
  for_each_look(moves, [&](const State& z, const Watched&) {
    all.push_back({std::abs(z[skew_error]), std::abs(z[v_ref]), std::abs(z[a_ref]), 1});
  });
  Looks looks{.at_rest_m = straightening_m};
  double fastest = 0, hardest = 0;
  out.peak_skew_m = straightening_m;
  for (const Look& l : all) {
    fastest = std::max(fastest, l.speed), hardest = std::max(hardest, l.acceleration);
    out.peak_skew_m = std::max(out.peak_skew_m, l.skew_m);
  }
  std::array<Look, kCells * kCells> cells;
  const auto cell = [](double value, double most) {
    return most > 0 ? std::min(kCells - 1, static_cast<int>(kCells * value / most)) : 0;
  };
  for (const Look& l : all) {
    const int i = cell(l.speed, fastest), k = cell(l.acceleration, hardest);
    if (l.speed == 0 && l.acceleration == 0) {
      looks.at_rest_m = std::max(looks.at_rest_m, l.skew_m);
      continue;
    }
    Look& c = cells[static_cast<size_t>(i * kCells + k)];
    c = {std::max(c.skew_m, l.skew_m), fastest * i / kCells, hardest * k / kCells, c.count + 1};
  }
  for (const Look& c : cells)
    if (c.count > 0) looks.moving.push_back(c);
  out.skew = least_level(looks, out.peak_skew_m);
  return out;
}

}  // namespace evenbeam::protection
