#include "tuning/margins.h"

#include <cmath>
#include <limits>
#include <numbers>

#include "dynamics/linear_response.h"
#include "servo/law_response.h"
#include "simulation/linear_loop.h"

namespace evenbeam::tuning {

using math::Complex;
using math::Complex2x2;

Margins margins(const std::vector<double>& hz, const std::vector<Complex2x2>& g, const machine::Settings& settings) {
  const servo::LoopLaw law = servo::prepare(settings);
  std::vector<double> lines;
  std::vector<Complex> a, b;
  Margins out{.both = std::numeric_limits<double>::infinity(),
              .drop_a = std::numeric_limits<double>::quiet_NaN(),
              .drop_b = std::numeric_limits<double>::quiet_NaN()};
  for (size_t i = 0; i < hz.size() && hz[i] < 0.5 / settings.period_s; ++i) {
    const servo::SideResponse c = servo::response(law, 2 * std::numbers::pi * hz[i]);
    const Complex2x2 one{1, 0, 0, 1};
    Complex2x2 s = math::inverse(one + Complex2x2{c.aa, c.ab, c.ba, c.bb} * g[i]);
    lines.push_back(hz[i]);
    a.push_back((1.0 - s.aa) / s.aa);
    b.push_back((1.0 - s.bb) / s.bb);
    s.aa -= 0.5, s.bb -= 0.5;
    const double alpha = 1 / math::structured_value(s);
    if (alpha < out.both) out.both = alpha;
  }
  out.a = math::loop_margins(lines, a);
  out.b = math::loop_margins(lines, b);
  return out;
}

Margins margins(const dynamics::Plant& plant, const machine::Settings& settings) {
  const dynamics::ResponseModel model = dynamics::response_model(plant, settings.period_s);
  std::vector<double> hz;
  std::vector<Complex2x2> g;
  for (double f = 0.2; f < 0.49 / settings.period_s; f *= 1.01) {
    const dynamics::SideResponse r = dynamics::response(model, 2 * std::numbers::pi * f);
    hz.push_back(f);
    g.push_back({r.aa, r.ab, r.ba, r.bb});
  }
  return margins(hz, g, settings);
}

double least_stable_factor(const dynamics::Plant& plant, const machine::Settings& settings, bool side_a) {
  const auto stable = [&](double factor) {
    dynamics::Plant weak = plant;
    (side_a ? weak.a : weak.b).force_scale *= factor;
    return simulation::stability(weak, settings).stable;
  };
  if (!stable(1)) return std::numeric_limits<double>::quiet_NaN();
  double holds = 1;
  for (double factor = 0.8; factor > 0.01; factor *= 0.8) {
    if (stable(factor)) {
      holds = factor;
      continue;
    }
    double fails = factor;
    while (holds / fails > 1.01) {
      const double middle = std::sqrt(holds * fails);
      (stable(middle) ? holds : fails) = middle;
    }
    return holds;
  }
  return 0;
}

}  // namespace evenbeam::tuning
