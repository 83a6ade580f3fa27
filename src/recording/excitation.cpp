#include "recording/excitation.h"

#include <algorithm>
#include <cmath>
#include <limits>

namespace evenbeam::recording {
namespace {

constexpr std::size_t kPiece = 512;  // correlation of unlike noise stays under 0.2 with this many samples
constexpr double kAlike = 0.6;       // correlation above which two pieces are the same excitation
constexpr double kShortestPeriod_s = 0.05;

// Differences over the stretch; a missing sample gives 0.
std::vector<double> differences(const std::vector<double>& x, std::size_t from, std::size_t to) {
  std::vector<double> d;
  d.reserve(to - from);
  for (std::size_t k = from + 1; k < to; ++k) {
    const double step = x[k] - x[k - 1];
    d.push_back(std::isfinite(step) ? step : 0);
  }
  return d;
}

double power_of(const std::vector<double>& d) {
  double sum = 0;
  for (double v : d) sum += v * v;
  return d.empty() ? 0 : sum / static_cast<double>(d.size());
}

// Correlation of the piece at `at` with the one `lag` later, -1..1.
double alike(const std::vector<double>& d, std::size_t at, std::size_t lag) {
  double cross = 0, own = 0, theirs = 0;
  for (std::size_t i = at; i < at + kPiece; ++i) {
    cross += d[i] * d[i + lag];
    own += d[i] * d[i];
    theirs += d[i + lag] * d[i + lag];
  }
  return cross / std::sqrt(own * theirs + std::numeric_limits<double>::min());
}

// Lag of the first place where the first piece comes again; 0 where it never does.
std::size_t first_repeat(const std::vector<double>& d, std::size_t shortest) {
  double best = kAlike;
  std::size_t best_lag = 0;
  for (std::size_t lag = shortest; lag + kPiece <= d.size(); ++lag) {
    const double now = alike(d, 0, lag);
    if (now > best) {
      best = now;
      best_lag = lag;
    }
    if (best_lag > 0 && lag > best_lag + kPiece) break;  // past the first one
  }
  return best_lag;
}

// 1 - power of what changes from period to period over the power of all.
double repeated_part(const std::vector<double>& d, std::size_t lag) {
  double change = 0, power = 0;
  for (std::size_t k = lag; k < d.size(); ++k) {
    change += 0.5 * (d[k] - d[k - lag]) * (d[k] - d[k - lag]);
    power += 0.5 * (d[k] * d[k] + d[k - lag] * d[k - lag]);
  }
  return power > 0 ? 1 - change / power : 0;
}

bool is_a_turn(double travel_m, const std::optional<double>& lead_m) {
  if (!lead_m || travel_m < 0.02 * *lead_m) return false;
  const double turns = travel_m / *lead_m;
  return turns < 1.5 && std::abs(turns - std::max(1.0, std::round(turns))) < 0.02;
}

double rms_about_mean(const std::vector<double>& x, std::size_t from, std::size_t to) {
  double sum = 0, squares = 0, n = 0;
  for (std::size_t k = from; k < to; ++k) {
    if (!std::isfinite(x[k])) continue;
    sum += x[k];
    squares += x[k] * x[k];
    n += 1;
  }
  return n > 0 ? std::sqrt(std::max(0.0, squares / n - sum / n * (sum / n))) : 0;
}

}  // namespace

std::optional<Excitation> find_excitation(const Recording& r, const Motion& motion, const machine::Machine& machine) {
  if (!has_forces(r)) return std::nullopt;
  const std::size_t from = motion.even_from, to = motion.even_to;
  const auto shortest = static_cast<std::size_t>(std::ceil(kShortestPeriod_s / r.period_s));
  if (to < from + 4 * kPiece || to - from < 2 * shortest + kPiece) return std::nullopt;
  const bool weak =
      (!machine.a.peak_force_n || rms_about_mean(r.force_a_n, from, to) < 0.01 * *machine.a.peak_force_n) &&
      (!machine.b.peak_force_n || rms_about_mean(r.force_b_n, from, to) < 0.01 * *machine.b.peak_force_n);
  if (weak && (machine.a.peak_force_n || machine.b.peak_force_n)) return std::nullopt;
  const std::vector<double> a = differences(r.force_a_n, from, to), b = differences(r.force_b_n, from, to);
  const double power_a = power_of(a), power_b = power_of(b);
  const std::vector<double>& strong = power_a >= power_b ? a : b;
  const std::size_t lag = first_repeat(strong, shortest);
  if (lag == 0) return std::nullopt;
  for (std::size_t piece = 1; piece < 4; ++piece)  // other places must agree
    if ((piece + 1) * kPiece + lag > strong.size() || alike(strong, piece * kPiece, lag) < kAlike)
      return std::nullopt;
  if (strong.size() < 2 * lag) return std::nullopt;
  Excitation excitation;
  excitation.period_s = static_cast<double>(lag) * r.period_s;
  excitation.repeated_part = repeated_part(strong, lag);
  const double travel_m = std::abs(motion.speed_at((from + to) / 2)) * excitation.period_s;
  if (excitation.repeated_part < 0.5 || is_a_turn(travel_m, machine.a.lead_m) ||
      is_a_turn(travel_m, machine.b.lead_m))
    return std::nullopt;
  excitation.excited = power_a > 1.5 * power_b ? Excited::a : power_b > 1.5 * power_a ? Excited::b : Excited::both;
  return excitation;
}

}  // namespace evenbeam::recording
