#pragma once
// The plant as a short list of fit parameters, and the 2x2 response with its exact derivatives.
//   G(s) = C H(s) B e^{-s tau}/(1 + s lag) g,  H = (s^2 M + s D + K)^-1,   dG = -C H (s^2 dM + s dD + dK) H B ... :
// the motions of one line serve all derivatives (grey_response.cpp). M, D, K are those of dynamics/motion.h.
// Positive parameters are fitted as logarithms and the end shape by a logistic curve, so that no step leaves the
// domain.
#include <Eigen/Core>
#include <array>
#include <complex>
#include <string>
#include <vector>

#include "dynamics/plant.h"

namespace evenbeam::identification {

// The bending's end shape lies between these, by the logistic curve.
inline constexpr double kFreeBeam = -1.6452, kHeavyEnds = -0.01;

// What of the plant is free. The carriage's own mass and place, viscous friction and stress-free skew are not: a
// response at one carriage place does not hold them.
enum GreyUnknown {
  kGreyImbalance,  // e: force scales 1 + e and 1 - e
  kGreyMotorA,
  kGreyMotorB,
  kGreyStiffnessA,
  kGreyStiffnessB,
  kGreyDampingA,
  kGreyDampingB,
  kGreyFixedMass,
  kGreyFixedMoment,
  kGreyFixedInertia,
  kGreyYawStiffness,
  kGreyYawDamping,
  kGreyDelay,
  kGreyLag,
  kGreyBendingHz,
  kGreyBendingDamping,
  kGreyBendingMass,
  kGreyBendingEnd,  // only where the plant bends
  kGreyCount
};
std::string grey_name(int unknown);

Eigen::VectorXd grey_parameters(const dynamics::Plant& plant);
// `base` gives what is not free.
dynamics::Plant grey_plant(const dynamics::Plant& base, const Eigen::VectorXd& parameters);
// Value of a parameter in SI and d value / d parameter; and back.
double grey_value(int unknown, double parameter);
double grey_parameter(int unknown, double value);
double grey_slope(int unknown, double parameter);

using Complex = std::complex<double>;
using Sides = std::array<Complex, 4>;  // aa, ab, ba, bb: position of the first side per force on the second

struct GreyResponse {
  std::vector<Sides> g;                          // a line
  std::vector<std::array<Sides, kGreyCount>> d;  // by parameter; left empty where not asked for
};
// `free_count`: kGreyBendingHz (no bending) or kGreyCount.
GreyResponse grey_response(const dynamics::Plant& base, const Eigen::VectorXd& parameters, int free_count,
                           const std::vector<double>& hz, bool derivatives);

}  // namespace evenbeam::identification
