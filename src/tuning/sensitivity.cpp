#include "tuning/sensitivity.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <utility>

#include "servo/law_response.h"

namespace evenbeam::tuning {
namespace {

using math::Complex2x2;

using Law = std::function<Complex2x2(double)>;

Law law_of(const machine::Settings& settings) {
  return [law = servo::prepare(settings)](double w) {
    const servo::SideResponse c = servo::response(law, w);
    return Complex2x2{c.aa, c.ab, c.ba, c.bb};
  };
}

double largest_of_both_sides(const Complex2x2& g, const Complex2x2& c, double peak_a, double peak_b) {
  // sigma_max of an inverse is one over sigma_min: no inverse is formed, a singular matrix gives infinity. Both sides
  // have one determinant, so that the larger sigma_max has the smaller sigma_min.
  const Complex2x2 one{1, 0, 0, 1};
  const Complex2x2 out = one + g * c, in = one + c * g;
  const double ratio = peak_b * peak_b / (peak_a * peak_a);
  const double product = std::norm(math::determinant(out));
  const auto square = [&](double aa, double ab, double ba, double bb) {
    const double half = 0.5 * (aa + ab + ba + bb);
    return half + std::sqrt(std::max(0.0, half * half - product));
  };
  const double outside = square(std::norm(out.aa), std::norm(out.ab), std::norm(out.ba), std::norm(out.bb));
  const double inside =
      square(std::norm(in.aa), std::norm(in.ab) * ratio, std::norm(in.ba) / ratio, std::norm(in.bb));
  const double most = std::max(outside, inside);
  return product > 0 ? std::sqrt(most / product) : std::numeric_limits<double>::infinity();
}

double at(const dynamics::ResponseModel& model, const Law& law, const machine::Settings& s, double hz) {
  const double w = 2 * std::numbers::pi * hz;
  const dynamics::SideResponse g = dynamics::response(model, w);
  return largest_of_both_sides({g.aa, g.ab, g.ba, g.bb}, law(w), s.peak_force_a_n, s.peak_force_b_n);
}

}  // namespace

PeakSensitivity peak_sensitivity(const std::vector<double>& hz, const std::vector<Complex2x2>& g,
                                 const machine::Settings& settings) {
  const Law law = law_of(settings);
  PeakSensitivity out;
  for (size_t i = 0; i < hz.size(); ++i) {
    if (hz[i] >= 0.5 / settings.period_s) continue;
    const double largest = largest_of_both_sides(g[i], law(2 * std::numbers::pi * hz[i]), settings.peak_force_a_n,
                                                 settings.peak_force_b_n);
    if (largest > out.peak) out = {largest, hz[i]};
  }
  return out;
}

PlantLines plant_lines(const dynamics::Plant& plant, double period_s) {
  constexpr int kSteps = 360;
  const double from = std::log(2 * std::numbers::pi * 0.2), to = std::log(2 * std::numbers::pi * 0.49 / period_s);
  std::vector<double> w;
  for (int i = 0; i <= kSteps; ++i) w.push_back(std::exp(from + i * (to - from) / kSteps));
  PlantLines out{plant, dynamics::response_lines(std::move(w), period_s, plant.delay_s, plant.current_lag_s), {}};
  dynamics::responses(plant, out.lines, out.g);
  return out;
}

LawLines law_lines(const dynamics::ResponseLines& lines, const machine::Settings& settings) {
  const servo::LoopLaw law = servo::prepare(settings);
  LawLines out;
  for (double w : lines.angular_rad_per_s) {
    out.mean.push_back(servo::response(law.mean, w));
    out.skew.push_back(servo::response(law.skew, w));
  }
  return out;
}

namespace {

struct OnLines {
  PeakSensitivity peak;
  size_t line = 0;
  // Whether the law `c` makes this the largest so far.
  bool take(const dynamics::SideResponse& g, const Complex2x2& c, double w, const machine::Settings& s) {
    const double largest = largest_of_both_sides({g.aa, g.ab, g.ba, g.bb}, c, s.peak_force_a_n, s.peak_force_b_n);
    if (!(largest > peak.peak)) return false;
    peak = {largest, w / (2 * std::numbers::pi)};
    return true;
  }
};

// `law` is asked at a line's number.
template <class OnGrid>
OnLines largest_on_lines(const PlantLines& p, const machine::Settings& s, OnGrid law) {
  OnLines out;
  for (size_t i = 0; i < p.g.size(); ++i)
    if (out.take(p.g[i], law(i), p.lines.angular_rad_per_s[i], s)) out.line = i;
  return out;
}

PeakSensitivity refined(const PlantLines& p, const machine::Settings& s, OnLines out, const Law& law) {
  const std::vector<double>& grid = p.lines.angular_rad_per_s;
  const size_t best = out.line;
  double low = grid[best > 0 ? best - 1 : 0], high = grid[std::min(best + 1, grid.size() - 1)];
  std::vector<dynamics::SideResponse> g;
  constexpr int kRounds = 5, kBetween = 8;
  for (int round = 0; round < kRounds; ++round) {
    std::vector<double> w;
    for (int i = 1; i <= kBetween; ++i) w.push_back(low + i * (high - low) / (kBetween + 1));
    const auto lines = dynamics::response_lines(w, p.lines.hold_period_s, p.lines.delay_s, p.lines.current_lag_s);
    dynamics::responses(p.plant, lines, g);
    for (size_t i = 0; i < w.size(); ++i) out.take(g[i], law(w[i]), w[i], s);
    const double at = 2 * std::numbers::pi * out.peak.at_hz, step = (high - low) / (kBetween + 1);
    low = std::max(low, at - step), high = std::min(high, at + step);
  }
  return out.peak;
}

auto law_on_lines(const LawLines& law, double share) {
  return [&law, share](size_t i) {
    const servo::SideResponse c = servo::combine(share, law.mean[i], law.skew[i]);
    return Complex2x2{c.aa, c.ab, c.ba, c.bb};
  };
}

}  // namespace

PeakSensitivity peak_on_lines(const PlantLines& plant, const machine::Settings& settings, const LawLines& law) {
  return largest_on_lines(plant, settings, law_on_lines(law, settings.share)).peak;
}

PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings, const LawLines& law) {
  return refined(plant, settings, largest_on_lines(plant, settings, law_on_lines(law, settings.share)),
                 law_of(settings));
}

PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings) {
  return peak_sensitivity(plant, settings, law_lines(plant.lines, settings));
}

PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings) {
  return peak_sensitivity(plant_lines(plant, settings.period_s), settings);
}

PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings, const Law& law) {
  const auto on_grid = [&](size_t i) { return law(plant.lines.angular_rad_per_s[i]); };
  return refined(plant, settings, largest_on_lines(plant, settings, on_grid), law);
}

double sensitivity_at(const dynamics::Plant& plant, const machine::Settings& settings, double hz) {
  return sensitivity_at(dynamics::response_model(plant, settings.period_s), settings, hz);
}

double sensitivity_at(const dynamics::ResponseModel& model, const machine::Settings& settings, double hz) {
  return at(model, law_of(settings), settings, hz);
}

}  // namespace evenbeam::tuning
