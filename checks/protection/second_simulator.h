#pragma once
// A second simulator of a bridge with a fault, for checks only: shares no code with the program. Small fixed steps in
// mean and yaw (x_m, theta), friction as impulses that stop a side exactly or act whole (projected Gauss-Seidel on
// two contacts), outputs through one lag, loop law by hand. No events are located; the step is the accuracy.
#include <algorithm>
#include <cmath>

namespace second {

struct Side {
  double coulomb = 0, viscous = 0, peak = 0, coulomb_ff = 0;
};
struct Loop {
  double kp = 0, kv = 0, per_ti = 0;
};
struct Machine {
  double span = 2, bridge = 120, end = 20, carriage = 60, stiffness = 4e6, damping = 3e3, lag = 1e-3;
  double motors = 0;  // each side
  Side a, b;
  Loop mean, skew;
  double share = 0.5, mass_ff = 0;
};
struct Reference {
  double v = 0, a = 0;
};
// What is broken and what has been done, set from outside at any step.
struct Status {
  char mode_a = 'l', mode_b = 'l';  // l: the law; h: held; f: the law's skew part alone
  double held_a = 0, held_b = 0;    // newtons
  double extra_a = 0, extra_b = 0;  // friction added
  double short_a = 0, short_b = 0;  // viscous friction added
  double read_a = 1, read_b = 1;    // feedback: 1 well, 0 frozen, -1 reversed
};
struct State {
  double vm = 0, w = 0, theta = 0;        // mean speed, yaw rate, yaw
  double em = 0, es = 0, im = 0, is = 0;  // errors as read, integrals
  double fa = 0, fb = 0;
};

inline double clip(double x, double peak) { return std::clamp(x, -peak, peak); }

struct Simulator {
  Machine m;
  double y = 0, payload = 0, dt = 2e-5;
  double mass = 0, moment = 0, inertia = 0;

  Simulator(const Machine& machine, double carriage_y, double load, double step)
      : m(machine), payload(load), dt(step) {
    place_carriage(carriage_y);
  }
  void place_carriage(double carriage_y) {
    y = carriage_y;
    const double c = m.carriage + payload, ends = 2 * (m.end + m.motors);
    mass = m.bridge + ends + c;
    moment = c * y;
    inertia = m.bridge * m.span * m.span / 12 + ends * m.span * m.span / 4 + c * y * y;
  }

  // Law's outputs, clipped.
  void law(const State& z, const Status& s, const Reference& r, double& a, double& b) const {
    const double va = s.read_a * (z.vm + z.w * m.span / 2), vb = s.read_b * (z.vm - z.w * m.span / 2);
    const double wm = m.mean.kp * z.em + r.v - (va + vb) / 2, ws = m.skew.kp * z.es - (va - vb);
    const double fm = m.mean.kv * (wm + z.im) + m.mass_ff * r.a, fs = m.skew.kv * (ws + z.is);
    const double way = r.v != 0 || r.a != 0 ? 1 : 0;
    a = s.mode_a == 'f' ? fs : m.share * fm + fs + way * m.a.coulomb_ff;
    b = s.mode_b == 'f' ? -fs : (1 - m.share) * fm - fs + way * m.b.coulomb_ff;
  }

  void step(State& z, const Status& s, const Reference& r) const {
    const double half = m.span / 2;
    double a = 0, b = 0;
    law(z, s, r, a, b);
    const bool clipped = (s.mode_a != 'h' && std::abs(a) > m.a.peak) || (s.mode_b != 'h' && std::abs(b) > m.b.peak);
    const double va = s.read_a * (z.vm + z.w * half), vb = s.read_b * (z.vm - z.w * half);
    if (!clipped) {
      z.im += dt * m.mean.per_ti * (m.mean.kp * z.em + r.v - (va + vb) / 2);
      z.is += dt * m.skew.per_ti * (m.skew.kp * z.es - (va - vb));
    }
    z.em += dt * (r.v - (va + vb) / 2);
    z.es -= dt * (va - vb);
    const double keep = std::exp(-dt / m.lag);
    z.fa = keep * z.fa + (1 - keep) * (s.mode_a != 'h' ? clip(a, m.a.peak) : s.held_a);
    z.fb = keep * z.fb + (1 - keep) * (s.mode_b != 'h' ? clip(b, m.b.peak) : s.held_b);
    // Free step, then friction impulses at both ends.
    const double true_a = z.vm + z.w * half, true_b = z.vm - z.w * half;
    const double push_a = z.fa - (m.a.viscous + s.short_a) * true_a,
                 push_b = z.fb - (m.b.viscous + s.short_b) * true_b;
    const double det = mass * inertia - moment * moment;
    const double force = push_a + push_b;
    const double turn = half * (push_a - push_b) - m.stiffness * z.theta - m.damping * z.w;
    double vm = z.vm + dt * (inertia * force + moment * turn) / det;
    double w = z.w + dt * (moment * force + mass * turn) / det;
    // Effect of a unit impulse at A (arm +half) or B (arm -half) on speeds.
    const auto kick = [&](double impulse, double arm) {
      vm += impulse * (inertia + moment * arm) / det;
      w += impulse * (moment + mass * arm) / det;
    };
    const double own_a = (inertia + 2 * moment * half + mass * half * half) / det;
    const double own_b = (inertia - 2 * moment * half + mass * half * half) / det;
    double ia = 0, ib = 0;
    for (int i = 0; i < 12; ++i) {
      const double next_a =
          std::clamp(ia - (vm + w * half) / own_a, -dt * (m.a.coulomb + s.extra_a), dt * (m.a.coulomb + s.extra_a));
      kick(next_a - ia, half);
      ia = next_a;
      const double next_b =
          std::clamp(ib - (vm - w * half) / own_b, -dt * (m.b.coulomb + s.extra_b), dt * (m.b.coulomb + s.extra_b));
      kick(next_b - ib, -half);
      ib = next_b;
    }
    z.vm = vm;
    z.w = w;
    z.theta += dt * w;
  }
  double energy(const State& z) const {
    return (mass * z.vm * z.vm - 2 * moment * z.vm * z.w + inertia * z.w * z.w + m.stiffness * z.theta * z.theta) / 2;
  }
};

}  // namespace second
