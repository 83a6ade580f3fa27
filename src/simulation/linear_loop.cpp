#include "simulation/linear_loop.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dynamics/linear_response.h"
#include "servo/law_response.h"

namespace evenbeam::simulation {

using Eigen::MatrixXd;

math::StateSpace closed_loop(const dynamics::Plant& plant, const machine::Settings& settings) {
  const math::StateSpace p = dynamics::sampled(plant, settings.period_s);
  const math::StateSpace law = servo::state_space(servo::prepare(settings));
  const Eigen::Index n = p.a.rows(), m = law.a.rows(), references = servo::law_inputs - 2;
  const MatrixXd by = law.b.leftCols(2), br = law.b.rightCols(references);
  const MatrixXd dy = law.d.leftCols(2), dr = law.d.rightCols(references);
  math::StateSpace s;
  s.period_s = settings.period_s;
  s.a.resize(n + m, n + m);
  s.a << p.a + p.b * dy * p.c, p.b * law.c, by * p.c, law.a;
  s.b = MatrixXd::Zero(n + m, loop_inputs);
  s.b.topLeftCorner(n, references) = p.b * dr;
  s.b.topRightCorner(n, 2) = p.b;
  s.b.bottomLeftCorner(m, references) = br;
  s.c = MatrixXd::Zero(loop_outputs, n + m);
  s.c.topLeftCorner(2, n) = p.c;
  s.c.bottomLeftCorner(2, n) = dy * p.c;
  s.c.bottomRightCorner(2, m) = law.c;
  s.d = MatrixXd::Zero(loop_outputs, loop_inputs);
  s.d.bottomLeftCorner(2, references) = dr;
  return s;
}

Stability stability(const dynamics::Plant& plant, const machine::Settings& settings) {
  const Eigen::VectorXcd z = math::eigenvalues(closed_loop(plant, settings).a);
  Stability out;
  out.spectral_radius = z.size() ? std::abs(z(0)) : 0;
  out.stable = out.spectral_radius < 1;
  for (const auto& value : z) {
    if (!(value.imag() > 0) || std::abs(value) < 1e-6) continue;
    const std::complex<double> rate = std::log(value) / settings.period_s;
    out.ringing.push_back({std::abs(rate) / (2 * std::numbers::pi), -rate.real() / std::abs(rate)});
  }
  std::sort(out.ringing.begin(), out.ringing.end(),
            [](const Ringing& p, const Ringing& q) { return p.damping < q.damping; });
  return out;
}

}  // namespace evenbeam::simulation
