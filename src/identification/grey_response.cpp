// The response of grey_box_model.h, its motors folded into the bridge (Schur complement). Motor i hangs on row r_i of
// its bridge end (in mean, yaw, bending) by k_i = c_i s + stiffness; D_i = m_i s^2 + k_i:
//   Q = bridge + carriage + sum_i (k_i m_i s^2/D_i + viscous_i s) r_i' r_i,   H = Q^-1,   P = R H R',   t_i = k_i/D_i
//   ends per motor force: P t;   motors: t P t + 1/D.
// Every parameter but the end shape changes the dynamic stiffness Z by products of rows, so with the motions X_j per
// motor force j and W_i per force on feedback i, both of the uncut system:  dG_ij = -sum g (row W_i)(row' X_j).
// Derived here; a test compares with dynamics/linear_response and with differences. Compiled with vectorised complex
// products (-fcx-limited-range): all values are finite.
#include <array>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "dynamics/beam.h"
#include "identification/grey_box_model.h"

namespace evenbeam::identification {
namespace {

using Three = std::array<Complex, 3>;  // mean, yaw, bending
using Pair = std::array<Complex, 2>;   // side A, side B

// What does not change from line to line.
struct Beam {
  bool bends = false;
  std::array<dynamics::PlantSide, 2> side;
  std::array<double, 2> arm;           // end's place from theta
  double end_shape = 0;                // bending at both ends; 0 where rigid
  std::array<double, 3> carriage_row;  // of (mean, yaw, bending)
  double carriage_shape_slope = 0;     // d bending at the carriage / d end shape
  double carriage_kg = 0, ahead2 = 0;  // with payload; h^2
  double w_bend = 0;
};

Beam beam_of(const dynamics::Plant& p, bool derivatives) {
  Beam b;
  b.bends = p.bending_hz > 0;
  b.side = {p.a, p.b};
  b.arm = {p.span_m / 2, -p.span_m / 2};
  b.end_shape = b.bends ? p.bending_end_shape : 0;
  const auto at_carriage = [&](double end_shape) {
    return dynamics::shape_at(dynamics::bending_shape(end_shape, p.span_m), p.carriage_y_m);
  };
  b.carriage_row = {1, -p.carriage_y_m, b.bends ? at_carriage(b.end_shape) : 0};
  if (b.bends && derivatives) {
    constexpr double step = 1e-5;
    b.carriage_shape_slope = (at_carriage(b.end_shape + step) - at_carriage(b.end_shape - step)) / (2 * step);
  }
  b.carriage_kg = p.carriage_mass_kg + p.payload_kg;
  b.ahead2 = p.carriage_ahead_m * p.carriage_ahead_m;
  b.w_bend = 2 * std::numbers::pi * p.bending_hz;
  return b;
}

// Everything of one line.
struct LineState {
  Complex s, act;
  Pair spring, dynamic, through;                             // k_i, D_i, t_i
  std::array<Three, 2> end;                                  // W: bridge per force on end i
  std::array<Pair, 2> p;                                     // P
  Complex bending_stiffness, bending_damping, bending_mass;  // their parts of Z
};

// Columns of the inverse of the symmetric Q times R'.
void solve_bridge(LineState& line, const std::array<Complex, 6>& q, const Beam& beam) {
  const auto& [xx, xt, xe, tt, te, ee] = q;
  Complex ixx, ixt, ixe, itt, ite, iee;
  if (beam.bends) {
    const Complex cxx = tt * ee - te * te, cxt = xe * te - xt * ee, cxe = xt * te - xe * tt;
    const Complex by = 1.0 / (xx * cxx + xt * cxt + xe * cxe);
    ixx = cxx * by, ixt = cxt * by, ixe = cxe * by;
    itt = (xx * ee - xe * xe) * by, ite = (xt * xe - xx * te) * by, iee = (xx * tt - xt * xt) * by;
  } else {
    const Complex by = 1.0 / (xx * tt - xt * xt);
    ixx = tt * by, ixt = -xt * by, itt = xx * by;
  }
  for (size_t i = 0; i < 2; ++i) {
    const double arm = beam.arm[i], e = beam.end_shape;
    line.end[i] = {ixx + arm * ixt + e * ixe, ixt + arm * itt + e * ite, ixe + arm * ite + e * iee};
  }
  for (size_t i = 0; i < 2; ++i)
    for (size_t j = 0; j < 2; ++j)
      line.p[i][j] = line.end[j][0] + beam.arm[i] * line.end[j][1] + beam.end_shape * line.end[j][2];
}

LineState solve_line(const dynamics::Plant& plant, const Beam& beam, double hz) {
  LineState line;
  const double w = 2 * std::numbers::pi * hz;
  line.s = {0, w};
  const Complex s = line.s;
  const double s2 = -w * w;
  line.act = std::polar(1.0, -w * plant.delay_s) / (1.0 + s * plant.current_lag_s);
  const auto& c = beam.carriage_row;
  const double m = s2 * beam.carriage_kg;
  std::array<Complex, 6> q{s2 * plant.fixed_mass_kg + m,
                           -s2 * plant.fixed_moment_kg_m + m * c[1],
                           m * c[2],
                           s2 * plant.fixed_inertia_kg_m2 + m * (c[1] * c[1] + beam.ahead2) +
                               plant.yaw_stiffness_n_m_per_rad + s * plant.yaw_damping_n_m_s_per_rad,
                           m * c[1] * c[2],
                           m * c[2] * c[2]};
  line.bending_mass = s2 * plant.bending_mass_kg;
  line.bending_damping = s * (2 * plant.bending_damping * beam.w_bend * plant.bending_mass_kg);
  line.bending_stiffness = beam.w_bend * beam.w_bend * plant.bending_mass_kg;
  q[5] += line.bending_mass + line.bending_damping + line.bending_stiffness;
  for (size_t i = 0; i < 2; ++i) {
    const dynamics::PlantSide& side = beam.side[i];
    line.spring[i] = side.drive_stiffness_n_per_m + s * side.drive_damping_n_s_per_m;
    line.dynamic[i] = line.spring[i] + s2 * side.motor_mass_kg;
    line.through[i] = line.spring[i] / line.dynamic[i];
    const Complex g = line.through[i] * (s2 * side.motor_mass_kg) + s * side.viscous_n_s_per_m;
    const double arm = beam.arm[i], e = beam.end_shape;
    q[0] += g, q[1] += arm * g, q[2] += e * g;
    q[3] += arm * arm * g, q[4] += arm * e * g, q[5] += e * e * g;
  }
  solve_bridge(line, q, beam);
  return line;
}

// One way of driving the whole: motions of bridge and motors per unit force on motor or end j.
struct Drive {
  Three bridge;
  Pair motor, stretch;  // stretch: motor less its end
};

Drive driven(const LineState& line, size_t j, bool at_motor) {
  Drive d;
  const Complex t = at_motor ? line.through[j] : Complex(1);
  for (size_t k = 0; k < 3; ++k) d.bridge[k] = line.end[j][k] * t;
  for (size_t i = 0; i < 2; ++i) {
    const Complex end = line.p[i][j] * t;
    d.motor[i] = line.through[i] * end;
    if (at_motor && i == j) d.motor[i] += 1.0 / line.dynamic[i];
    d.stretch[i] = d.motor[i] - end;
  }
  return d;
}

// -dG/d(end shape) less the change of the feedback row: the shape moves both ends and the carriage.
Complex by_end_shape(const LineState& line, const Beam& beam, const Drive& w, const Drive& x) {
  const auto along = [](const std::array<double, 3>& row, const Three& q) {
    return row[0] * q[0] + row[1] * q[1] + row[2] * q[2];
  };
  const auto& c = beam.carriage_row;
  const Complex carriage = w.bridge[2] * along(c, x.bridge) + along(c, w.bridge) * x.bridge[2];
  Complex sum = line.s * line.s * beam.carriage_kg * beam.carriage_shape_slope * carriage;
  for (size_t i = 0; i < 2; ++i) {
    sum -= line.spring[i] * (w.bridge[2] * x.stretch[i] + w.stretch[i] * x.bridge[2]);
    const std::array<double, 3> end{1, beam.arm[i], beam.end_shape};
    sum += line.s * beam.side[i].viscous_n_s_per_m *
           (w.bridge[2] * along(end, x.bridge) + along(end, w.bridge) * x.bridge[2]);
  }
  return sum;
}

// -dG_ij of every parameter that acts on the motion, before lag, delay and force scale.
std::array<Complex, kGreyCount> changes(const dynamics::Plant& p, const Beam& beam, const LineState& line,
                                        const Drive& w, const Drive& x) {
  std::array<Complex, kGreyCount> d{};
  const Complex s = line.s, s2 = s * s;
  const Complex yaw = w.bridge[1] * x.bridge[1], bend = w.bridge[2] * x.bridge[2];
  for (size_t i = 0; i < 2; ++i) {
    const int side = static_cast<int>(i);
    const Complex stretch = w.stretch[i] * x.stretch[i];
    d[static_cast<size_t>(kGreyMotorA + side)] = s2 * beam.side[i].motor_mass_kg * (w.motor[i] * x.motor[i]);
    d[static_cast<size_t>(kGreyStiffnessA + side)] = beam.side[i].drive_stiffness_n_per_m * stretch;
    d[static_cast<size_t>(kGreyDampingA + side)] = s * beam.side[i].drive_damping_n_s_per_m * stretch;
  }
  d[kGreyFixedMass] = s2 * p.fixed_mass_kg * (w.bridge[0] * x.bridge[0]);
  d[kGreyFixedMoment] = -s2 * (w.bridge[0] * x.bridge[1] + w.bridge[1] * x.bridge[0]);
  d[kGreyFixedInertia] = s2 * p.fixed_inertia_kg_m2 * yaw;
  d[kGreyYawStiffness] = p.yaw_stiffness_n_m_per_rad * yaw;
  d[kGreyYawDamping] = s * p.yaw_damping_n_m_s_per_rad * yaw;
  if (!beam.bends) return d;
  d[kGreyBendingHz] = (2.0 * line.bending_stiffness + line.bending_damping) * bend;
  d[kGreyBendingDamping] = line.bending_damping * bend;
  d[kGreyBendingMass] = (line.bending_mass + line.bending_damping + line.bending_stiffness) * bend;
  d[kGreyBendingEnd] = by_end_shape(line, beam, w, x);
  return d;
}

void add_derivatives(std::array<Sides, kGreyCount>& out, const dynamics::Plant& p, const Beam& beam,
                     const LineState& line, const Sides& g, int free_count) {
  const bool at_motor = p.feedback_on_motor;
  const std::array<Drive, 2> x{driven(line, 0, true), driven(line, 1, true)},
      w{driven(line, 0, at_motor), driven(line, 1, at_motor)};
  for (size_t i = 0; i < 2; ++i)
    for (size_t j = 0; j < 2; ++j) {
      const size_t at = 2 * i + j;
      const Complex act = line.act * beam.side[j].force_scale;
      auto d = changes(p, beam, line, w[i], x[j]);
      if (beam.bends && !at_motor) d[kGreyBendingEnd] -= x[j].bridge[2];
      for (int n = 0; n < free_count; ++n) out[static_cast<size_t>(n)][at] = -act * d[static_cast<size_t>(n)];
      out[kGreyImbalance][at] = g[at] * ((j == 0 ? 1 : -1) / beam.side[j].force_scale);
      out[kGreyDelay][at] = -line.s * g[at];
      out[kGreyLag][at] = -line.s * p.current_lag_s / (1.0 + line.s * p.current_lag_s) * g[at];
    }
}

}  // namespace

GreyResponse grey_response(const dynamics::Plant& base, const Eigen::VectorXd& parameters, int free_count,
                           const std::vector<double>& hz, bool derivatives) {
  const dynamics::Plant plant = grey_plant(base, parameters);
  base::check(plant.a.drive_stiffness_n_per_m > 0 && plant.b.drive_stiffness_n_per_m > 0 &&
                  !(plant.carriage_stiffness_n_per_m > 0),
              "a grey-box plant has elastic drives and a rigid carriage");
  const Beam beam = beam_of(plant, derivatives);
  const double end_slope = grey_slope(kGreyBendingEnd, parameters[kGreyBendingEnd]);
  GreyResponse out;
  out.g.resize(hz.size());
  if (derivatives) out.d.resize(hz.size());
  for (size_t k = 0; k < hz.size(); ++k) {
    const LineState line = solve_line(plant, beam, hz[k]);
    for (size_t i = 0; i < 2; ++i)
      for (size_t j = 0; j < 2; ++j) {
        Complex g = line.p[i][j] * line.through[j];
        if (plant.feedback_on_motor) g = line.through[i] * g + (i == j ? 1.0 / line.dynamic[i] : Complex(0));
        out.g[k][2 * i + j] = line.act * beam.side[j].force_scale * g;
      }
    if (!derivatives) continue;
    add_derivatives(out.d[k], plant, beam, line, out.g[k], free_count);
    for (Complex& d : out.d[k][kGreyDelay]) d *= plant.delay_s;
    for (Complex& d : out.d[k][kGreyBendingEnd]) d *= end_slope;
  }
  return out;
}

}  // namespace evenbeam::identification
