#pragma once
// Masses, yaw stiffness and friction from ordinary captures: one linear regression over all recordings that hold
// positions and forces. docs/equations.md, "Motion fit". Commanded newtons F; g_A = 1 + e, g_B = 1 - e (the common
// force scale is settled in force_scale.h); m = mean, s = skew, d = (F_A - F_B)/2, y the carriage's place, p payload:
//   F_A + F_B = M0 m'' + (m_c + k p)(m'' - y/L s'') - S0/L s'' + r_A + r_B + o - 2 e d + lag terms
//   d = -S0/L m'' + (m_c + k p)(-y/L m'' + y^2/L^2 s'') + J0/L^2 s'' + C/L^2 s' + K/L^2 (s - s_free)
//       + (r_A - r_B)/2 - e (F_A + F_B)/2 + lag terms
//   r = Coulomb * direction + viscous * velocity of each side's own.
// Lag terms, linear in the third and fourth derivative of m and s, carry delay, current lag and drive elasticity to
// first order, so that the bandwidth may come near (not reach) the first drive or bending mode.
// Not told apart by recordings alone: the common scale of force and mass; J0 is about mid-span.
#include <optional>
#include <string>
#include <vector>

#include "identification/motion_rows.h"
#include "identification/robust_regression.h"
#include "machine/machine.h"
#include "math/estimate.h"
#include "recording/recording.h"

namespace evenbeam::identification {

struct RecordingUse {
  std::string name;
  double from_s = 0, to_s = 0;  // span of the rows used
  int rows = 0;
  double residual_mean_n = 0;   // spread of what the law leaves, sum of forces
  double residual_fight_n = 0;  // the same of d
};

struct SwitchOn {  // recordings that share their zero
  std::string name;
  math::Estimate stress_free_skew_m;  // in that zero
};

struct MotionFit {
  bool done = false;
  std::string reason = "no recording with positions and forces of both sides in motion";
  double bandwidth_hz = 0;
  double condition = 0;  // scaled, data alone
  std::vector<RecordingUse> recordings;
  std::vector<SwitchOn> switch_ons;
  // At the carriage place where most of the data was taken, without payload. Mean-scale newtons.
  double carriage_y_m = 0;
  bool carriage_known = false;  // false: no place was stated, everything refers to where it stood
  math::Estimate mass_kg, moment_kg_m, inertia_kg_m2;
  math::Estimate yaw_stiffness_n_m_per_rad, yaw_damping_n_m_s_per_rad;
  math::Estimate coulomb_a_n, coulomb_b_n, viscous_a_n_s_per_m, viscous_b_n_s_per_m;
  math::Estimate force_imbalance;               // e
  math::Estimate gain_ratio_b_to_a;             // (1 - e)/(1 + e)
  math::Estimate lag_s;                         // delay, hold and current lag together, seen by the mean
  math::Estimate carriage_mass_kg;              // from_data says whether the recordings or the papers tell it
  std::optional<math::Estimate> payload_scale;  // k: commanded newtons per real newton, where payload was varied
  // For functions of the unknowns, see share_at and friction_difference.
  std::vector<std::string> names;
  Eigen::VectorXd x;
  Eigen::MatrixXd covariance;
};

// What a response tells of the same unknowns: e, S, J, K, C (mean-scale newtons) at its carriage place and payload.
// Made of means over whole periods, it is free of what pulls the motion fit's answers: ripple and friction move the
// bridge too, and the skew they cause hides in the regressors (errors in variables). The periods are the instruments.
struct ResponseKnowledge {
  using Numbers = Eigen::Matrix<double, 5, 1>;
  bool known = false;
  bool contradicts = false;  // measured, but no plant follows it: the fight's numbers are then widened
  Numbers value = Numbers::Zero();
  Eigen::Matrix<double, 5, 5> covariance = Eigen::Matrix<double, 5, 5>::Zero();
  double carriage_y_m = 0, payload_kg = 0;
};

// The narrow windows' rows, made once for any number of fits; a fit that gets to wider ones makes theirs.
struct MotionWindows {
  std::vector<MotionRows> rows;  // narrow to wide
  double payload_max_kg = 0;
};
MotionWindows motion_windows(const std::vector<recording::Recording>& recordings, const machine::Machine& machine);

MotionFit fit_motion(const MotionWindows& windows, const std::vector<recording::Recording>& recordings,
                     const machine::Machine& machine, const ResponseKnowledge& response = {});
MotionFit fit_motion(const std::vector<recording::Recording>& recordings, const machine::Machine& machine);

// The response's numbers, as something better than the rows: held in `regression` (robust_regression.h).
void hold_to_response(Regression& regression, const ResponseKnowledge& response, double span_m);

// Force share of A that makes no yaw under acceleration, carriage at y with payload. Real newtons (share 1/2 - S/(M
// L)); `commanded`: what the controller must be given, sigma/g_A / (sigma/g_A + (1 - sigma)/g_B).
math::Estimate share_at(const MotionFit& fit, const machine::Machine& machine, double y_m, double payload_kg,
                        bool commanded);
// (r_A - r_B) at a common speed of both sides, N, mean-scale.
math::Estimate friction_difference(const MotionFit& fit, double speed_m_per_s);

}  // namespace evenbeam::identification
