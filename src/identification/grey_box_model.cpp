#include "identification/grey_box_model.h"

#include <Eigen/LU>
#include <cmath>
#include <numbers>

#include "dynamics/motion.h"

namespace evenbeam::identification {
namespace {

bool by_logarithm(int j) {
  return j != kGreyImbalance && j != kGreyFixedMoment && j != kGreyDelay && j != kGreyBendingEnd;
}

double& place(dynamics::Plant& p, int j, double& spare) {
  switch (j) {
    case kGreyMotorA:
      return p.a.motor_mass_kg;
    case kGreyMotorB:
      return p.b.motor_mass_kg;
    case kGreyStiffnessA:
      return p.a.drive_stiffness_n_per_m;
    case kGreyStiffnessB:
      return p.b.drive_stiffness_n_per_m;
    case kGreyDampingA:
      return p.a.drive_damping_n_s_per_m;
    case kGreyDampingB:
      return p.b.drive_damping_n_s_per_m;
    case kGreyFixedMass:
      return p.fixed_mass_kg;
    case kGreyFixedMoment:
      return p.fixed_moment_kg_m;
    case kGreyFixedInertia:
      return p.fixed_inertia_kg_m2;
    case kGreyYawStiffness:
      return p.yaw_stiffness_n_m_per_rad;
    case kGreyYawDamping:
      return p.yaw_damping_n_m_s_per_rad;
    case kGreyDelay:
      return p.delay_s;
    case kGreyLag:
      return p.current_lag_s;
    case kGreyBendingHz:
      return p.bending_hz;
    case kGreyBendingDamping:
      return p.bending_damping;
    case kGreyBendingMass:
      return p.bending_mass_kg;
    case kGreyBendingEnd:
      return p.bending_end_shape;
    default:
      return spare;
  }
}

using Matrix = dynamics::MotionMatrix;
using ComplexMatrix =
    Eigen::Matrix<Complex, Eigen::Dynamic, Eigen::Dynamic, 0, dynamics::most_coordinates, dynamics::most_coordinates>;
using ComplexPair = Eigen::Matrix<Complex, Eigen::Dynamic, 2, 0, dynamics::most_coordinates, 2>;
using ComplexRows = Eigen::Matrix<Complex, 2, Eigen::Dynamic, Eigen::RowMajor, 2, dynamics::most_coordinates>;
using Small = Eigen::Matrix<Complex, 2, 2>;

struct Slope {
  Matrix mass, damping, stiffness;
  dynamics::MotionRow end_a, end_b;  // the feedback rows move with the bending's end shape
  bool zero = true;
};

// d(M, D, K, rows)/d parameter by central differences: exact for all but the end shape, in which M, D, K are smooth.
Slope slope_of(const dynamics::Plant& base, const Eigen::VectorXd& parameters, int j) {
  const double h = by_logarithm(j) ? 1e-5 : 1e-5 * std::max(1.0, std::abs(parameters[j]));
  Eigen::VectorXd up = parameters, down = parameters;
  up[j] += h;
  down[j] -= h;
  const auto a = dynamics::motion(grey_plant(base, up)), b = dynamics::motion(grey_plant(base, down));
  return {(a.mass - b.mass) / (2 * h),
          (a.damping - b.damping) / (2 * h),
          (a.stiffness - b.stiffness) / (2 * h),
          (a.feedback_a - b.feedback_a) / (2 * h),
          (a.feedback_b - b.feedback_b) / (2 * h),
          false};
}

bool acts_on_motion(int j) { return j != kGreyImbalance && j != kGreyDelay && j != kGreyLag; }

Sides packed(const Small& g) { return {g(0, 0), g(0, 1), g(1, 0), g(1, 1)}; }

}  // namespace

std::string grey_name(int j) {
  static const std::array<const char*, kGreyCount> names{"force imbalance",
                                                         "motor mass A",
                                                         "motor mass B",
                                                         "drive stiffness A",
                                                         "drive stiffness B",
                                                         "drive damping A",
                                                         "drive damping B",
                                                         "bridge mass",
                                                         "bridge moment",
                                                         "bridge yaw inertia",
                                                         "yaw stiffness",
                                                         "yaw damping",
                                                         "delay",
                                                         "current lag",
                                                         "bending frequency",
                                                         "bending damping",
                                                         "bending modal mass",
                                                         "bending end shape"};
  return names[static_cast<size_t>(j)];
}

double grey_value(int j, double parameter) { return by_logarithm(j) ? std::exp(parameter) : parameter; }
double grey_slope(int j, double parameter) { return by_logarithm(j) ? std::exp(parameter) : 1; }

Eigen::VectorXd grey_parameters(const dynamics::Plant& plant) {
  Eigen::VectorXd out(static_cast<int>(kGreyCount));
  dynamics::Plant copy = plant;
  double imbalance = (plant.a.force_scale - plant.b.force_scale) / 2;
  for (int j = 0; j < kGreyCount; ++j) {
    const double value = place(copy, j, imbalance);
    out[j] = by_logarithm(j) ? std::log(std::max(value, 1e-12)) : value;
  }
  return out;
}

dynamics::Plant grey_plant(const dynamics::Plant& base, const Eigen::VectorXd& parameters) {
  dynamics::Plant out = base;
  double imbalance = 0;
  for (int j = 0; j < kGreyCount; ++j) {
    const bool bends = base.bending_hz > 0 || j < kGreyBendingHz;
    if (bends) place(out, j, imbalance) = grey_value(j, parameters[j]);
  }
  out.a.force_scale = 1 + imbalance;
  out.b.force_scale = 1 - imbalance;
  return out;
}

GreyResponse grey_response(const dynamics::Plant& base, const Eigen::VectorXd& parameters, int free_count,
                           const std::vector<double>& hz, bool derivatives) {
  const dynamics::Plant plant = grey_plant(base, parameters);
  const dynamics::Motion m = dynamics::motion(plant);
  std::vector<Slope> slopes(static_cast<size_t>(free_count));
  for (int j = 0; derivatives && j < free_count; ++j)
    if (acts_on_motion(j)) slopes[static_cast<size_t>(j)] = slope_of(base, parameters, j);
  const int n = m.at.count;
  ComplexPair motors(n, 2);
  motors.col(0) = m.motor_a.transpose().cast<Complex>();
  motors.col(1) = m.motor_b.transpose().cast<Complex>();
  ComplexRows feedback(2, n);
  feedback.row(0) = m.feedback_a.cast<Complex>();
  feedback.row(1) = m.feedback_b.cast<Complex>();
  const Eigen::Vector2cd scale(plant.a.force_scale, plant.b.force_scale);
  GreyResponse out;
  out.g.reserve(hz.size());
  if (derivatives) out.d.resize(hz.size());
  for (size_t i = 0; i < hz.size(); ++i) {
    const Complex s(0, 2 * std::numbers::pi * hz[i]);
    const ComplexMatrix dynamic = s * s * m.mass + s * m.damping + m.stiffness.cast<Complex>();
    const Eigen::PartialPivLU<ComplexMatrix> lu(dynamic);
    const ComplexPair right = lu.solve(motors);  // H B
    // M, D and K are symmetric, so C H = (H C')'.
    const ComplexPair left_transposed = lu.solve(ComplexPair(feedback.transpose()));
    const ComplexRows left = left_transposed.transpose();
    const Complex act = std::exp(-s * plant.delay_s) / (1.0 + s * plant.current_lag_s);
    const Small bare = feedback * right;
    const Small g = act * (bare * scale.asDiagonal());
    out.g.push_back(packed(g));
    if (!derivatives) continue;
    for (int j = 0; j < free_count; ++j) {
      Small d;
      if (j == kGreyImbalance) {
        d = act * bare * Eigen::Vector2cd(1, -1).asDiagonal();
      } else if (j == kGreyDelay) {
        d = -s * g;
      } else if (j == kGreyLag) {
        d = -s * plant.current_lag_s / (1.0 + s * plant.current_lag_s) * g;
      } else {
        const Slope& t = slopes[static_cast<size_t>(j)];
        const ComplexMatrix change = s * s * t.mass + s * t.damping + t.stiffness.cast<Complex>();
        Small moved = -(left * (change * right));
        if (j == kGreyBendingEnd) {
          moved.row(0) += t.end_a.cast<Complex>() * right;
          moved.row(1) += t.end_b.cast<Complex>() * right;
        }
        d = act * (moved * scale.asDiagonal());
      }
      out.d[i][static_cast<size_t>(j)] = packed(d);
    }
  }
  return out;
}

}  // namespace evenbeam::identification
