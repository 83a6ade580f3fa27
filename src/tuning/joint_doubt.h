#pragma once
// What the fit allows jointly: the plant's numbers as functions of standard normal directions c,
//   p_k = p_k(0) + along_k . c,  |c| <= radius,  radius^2 the 95 % quantile of chi-square with that many directions
// p_k the number itself, its logarithm where a positive one may be off by half of itself or more (a lag goes up as
// far as a straight line would), the logistic parameter of the bending's end shape (identification/grey_box_model.h).
// Each entry of p may be off by radius |along_k|, more than its own 95 % interval, but not all at once. Bending: its
// coordinate's scale is free, so that its numbers are taken with the shape at the ends held where it was fitted:
// modal mass m' = m (fitted end shape/end shape)^2, stiffness (2 pi f)^2 m' in place of the frequency and damping 4
// pi f zeta m' in place of the ratio. In all of these the equations of motion are linear. Directions: those of the
// response's fit; the carriage's mass, against which the bridge's mass, moment and inertia move so that the whole
// where the response was measured stays; viscous friction of each side. Without a response those of the motion fit.
// Coulomb friction is left out, since the linear loop doesn't know it, and so is the common scale of force
// (plant_interval.h).
#include <Eigen/Core>
#include <optional>
#include <vector>

#include "dynamics/plant.h"
#include "identification/identify.h"
#include "math/random.h"
#include "tuning/plant_interval.h"

namespace evenbeam::tuning {

struct DoubtfulPart {
  enum class Scale { linear, logarithm, end_shape };
  Part part = Part::fixed_mass;
  Scale scale = Scale::linear;
  double value = 0;       // fitted, number_of
  Eigen::VectorXd along;  // of p, by direction
};
// A part's number in the equations of motion: value_of, but for the bending.
double number_of(const dynamics::Plant& plant, Part part);
double value_at(const DoubtfulPart& part, double off);  // off: of p
double slope_of(const DoubtfulPart& part);              // d value / d p where fitted

struct JointDoubt {
  std::vector<DoubtfulPart> parts;
  Eigen::Index directions = 0;
  double radius = 0;
};
// Radius of the 95 % ellipsoid of so many directions.
double joint_radius(Eigen::Index directions);
JointDoubt joint_doubt(const identification::Identified& identified);

// The moment is brought inside what mass and inertia allow, and what cannot be negative is at least zero: the
// ellipsoid of a poor fit holds impossible plants too.
dynamics::Plant plant_at(const dynamics::Plant& plant, const JointDoubt& doubt, const Eigen::VectorXd& c);
// A plant drawn from all that the fit doubts: normal directions c, none beyond the radius, and both sides' Coulomb
// and viscous friction by their own joint covariance of the motion fit (what is Coulomb is not viscous: they are
// drawn against each other).
class PlantDraws {
 public:
  explicit PlantDraws(const identification::Identified& identified);
  dynamics::Plant draw(math::Random& random) const;

 private:
  dynamics::Plant plant_;
  JointDoubt doubt_;
  Eigen::MatrixXd friction_;  // rows Coulomb A, B, viscous A, B
};
// Every second draw on the surface of `part` (0..1) of the ellipsoid, the others evenly over its inside.
Eigen::VectorXd drawn_direction(const JointDoubt& doubt, double part, bool on_surface, math::Random& random);

}  // namespace evenbeam::tuning
