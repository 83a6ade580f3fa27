#include "tuning/sensitivity.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "dynamics/linear_response.h"
#include "servo/law_response.h"

namespace evenbeam::tuning {
namespace {

using math::Complex2x2;

struct Both {
  double value = 0;
  bool input = false;
};

using Law = std::function<Complex2x2(double)>;

Law law_of(const machine::Settings& settings) {
  return [law = servo::prepare(settings)](double w) {
    const servo::SideResponse c = servo::response(law, w);
    return Complex2x2{c.aa, c.ab, c.ba, c.bb};
  };
}

Both largest_singular_values(const Complex2x2& g, const Complex2x2& c, double peak_a, double peak_b) {
  const Complex2x2 one{1, 0, 0, 1};
  // sigma_max of an inverse is one over sigma_min: no inverse is formed, a singular matrix gives infinity
  const double out = math::singular_values(one + g * c)[1];
  Complex2x2 in = one + c * g;
  in.ab *= peak_b / peak_a;
  in.ba *= peak_a / peak_b;
  const double inside = math::singular_values(in)[1];
  const double smallest = std::min(out, inside);
  return {smallest > 0 ? 1 / smallest : std::numeric_limits<double>::infinity(), inside < out};
}

Both at(const dynamics::ResponseModel& model, const Law& law, const machine::Settings& s, double hz) {
  const double w = 2 * std::numbers::pi * hz;
  const dynamics::SideResponse g = dynamics::response(model, w);
  return largest_singular_values({g.aa, g.ab, g.ba, g.bb}, law(w), s.peak_force_a_n, s.peak_force_b_n);
}

}  // namespace

PeakSensitivity peak_sensitivity(const std::vector<double>& hz, const std::vector<Complex2x2>& g,
                                 const machine::Settings& settings) {
  const Law law = law_of(settings);
  PeakSensitivity out;
  for (size_t i = 0; i < hz.size(); ++i) {
    if (hz[i] >= 0.5 / settings.period_s) continue;
    const Both b = largest_singular_values(g[i], law(2 * std::numbers::pi * hz[i]), settings.peak_force_a_n,
                                           settings.peak_force_b_n);
    if (b.value > out.peak) out = {b.value, hz[i], b.input};
  }
  return out;
}

PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings) {
  return peak_sensitivity(plant, settings, law_of(settings));
}

PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings, const Law& law) {
  const dynamics::ResponseModel model = dynamics::response_model(plant, settings.period_s);
  constexpr int kSteps = 360;
  const double from = std::log(0.2), to = std::log(0.49 / settings.period_s);
  const double step = (to - from) / kSteps;
  PeakSensitivity out;
  int best = 0;
  for (int i = 0; i <= kSteps; ++i) {
    const double hz = std::exp(from + i * step);
    const Both b = at(model, law, settings, hz);
    if (b.value > out.peak) out = {b.value, hz, b.input}, best = i;
  }
  double low = from + (best - 1) * step, high = from + (best + 1) * step;
  const double golden = (std::sqrt(5.0) - 1) / 2;
  for (int k = 0; k < 24; ++k) {
    const double left = high - golden * (high - low), right = low + golden * (high - low);
    const Both l = at(model, law, settings, std::exp(left)), r = at(model, law, settings, std::exp(right));
    (l.value > r.value ? high : low) = l.value > r.value ? right : left;
    const Both& b = l.value > r.value ? l : r;
    if (b.value > out.peak) out = {b.value, std::exp(l.value > r.value ? left : right), b.input};
  }
  return out;
}

double sensitivity_at(const dynamics::Plant& plant, const machine::Settings& settings, double hz) {
  return at(dynamics::response_model(plant, settings.period_s), law_of(settings), settings, hz).value;
}

}  // namespace evenbeam::tuning
