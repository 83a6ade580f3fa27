#pragma once
// A first push with loops open: how hard and how long, so that with one side dead, reversed or held by its friction
// skew and speed stay inside. Bounds, not forecasts: they hold for every dissipative friction and for any yaw
// damping.
//
// Rigid bridge on rigid drives, ends' velocities v = (v_A, v_B), mass matrix W, each side's force bounded by F for
// the time T. With E = v'Wv/2 + K (theta - theta_free)^2/2 and friction only taking power,
//   dE/dt <= F (|v_A| + |v_B|) <= F c sqrt(2E),  c^2 = max over u = (1, +-1) of u' W^-1 u,
// so sqrt(2E) <= sqrt(2 E_0) + F c T at the end of the push and nothing adds to it afterwards. From this
//   speed of an end   <= sqrt(2E) max_i sqrt(e_i' W^-1 e_i)
//   skew, K known     <= s_0 + L F min(c T/sqrt(K), 2 L/K)       (second: a step doubles the static deflection)
//   skew and way of an end, friction r on each side known <= c^2 F T^2/2 + c T sqrt(2E_0) + E/r
//                                                           (pushed, then coasting until friction has eaten E)
//   yaw moment        <= min(2 L F, F c T sqrt(K)) + K s_0/L     (2 L F for any K at all)
// s_0 is the skew that friction may hold before the push: r L^2/K; where K is unknown the start is taken as free.
// In (x_m, theta): W^-1 from M, S, J; u = (1,1): 4/(M - S^2/J); u = (1,-1): L^2/(J - S^2/M). The yaw moment bound
// 2 L F takes friction below F, as it is while a push moves anything. Left out: elasticity of drives and beam (pushes
// last many of their periods), unbalanced axes under gravity, forces of cables and covers.
#include <optional>
#include <string>
#include <vector>

#include "base/estimate.h"
#include "machine/machine.h"

namespace evenbeam::limits {

// What `fit` may know, real newtons; absent where it has not run.
struct LimitsInput {
  std::optional<base::Estimate> yaw_stiffness_n_m_per_rad, yaw_damping_n_m_s_per_rad;
  std::optional<base::Estimate> moving_mass_kg, yaw_inertia_kg_m2;  // carriage where it stood
  std::optional<double> carriage_y_m;                               // where it stood
  std::optional<base::Estimate> coulomb_a_n, coulomb_b_n;
  std::optional<base::Estimate> force_scale_a, force_scale_b;  // real over nameplate
  std::optional<double> standing_skew_m;                       // |s - s_free| seen at rest
};

// Bounds on the inertia that a push meets; the smallest that carriage place and payload can make it.
struct PushInertia {
  double pair_per_kg = 0;  // c^2
  double end_per_kg = 0;   // max_i e_i' W^-1 e_i
  bool fitted = false;
  std::vector<std::string> missing;  // masses counted as nothing (safe: lighter moves more)
};
// nullopt where not even the bridge's mass is known and nothing was fitted.
std::optional<PushInertia> push_inertia(const machine::Machine& machine, const LimitsInput& input);

struct PushCase {
  double span_m = 0;
  PushInertia inertia;
  std::optional<double> stiffness_low_n_m_per_rad, stiffness_high_n_m_per_rad;
  std::optional<double> friction_low_n;  // of the freer side; for coasting
  double start_skew_m = 0;               // s_0 that friction can hold before the push
};
struct PushBounds {
  double speed_m_per_s = 0;
  double moment_n_m = 0;
  std::optional<double> skew_m;  // nullopt: neither stiffness nor friction known
  std::optional<double> way_m;   // of an end, until it stands again
};
PushBounds push_bounds(const PushCase& push, double force_n, double time_s);

struct PushLimits {
  std::optional<double> skew_m, moment_n_m;  // at most; nullopt = not held against
  double speed_m_per_s = 0;
};
// The largest force (real newtons) whose bounds stay inside, 0 where none does; bisection, bounds rise with force.
double largest_force_n(const PushCase& push, const PushLimits& limits, double time_s, double ceiling_n);
// Which of "skew", "yaw moment", "speed" is closest to its limit.
std::string binding_limit(const PushBounds& bounds, const PushLimits& limits);

}  // namespace evenbeam::limits
