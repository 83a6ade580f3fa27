#include "tuning/joint_doubt.h"

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "identification/grey_box_model.h"
#include "math/student.h"

namespace evenbeam::tuning {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using identification::Identified;
using Scale = DoubtfulPart::Scale;

// Columns b with b b' = covariance, found of the correlations, since units differ; directions along which nothing
// moves are left out.
MatrixXd directions_of(const MatrixXd& covariance) {
  constexpr double kLeast = 1e-12;  // of a correlation: what rounding leaves of nothing
  const VectorXd sd = covariance.diagonal().cwiseMax(0).cwiseSqrt();
  const VectorXd inverse = sd.unaryExpr([](double x) { return x > 0 ? 1 / x : 0; });
  const Eigen::SelfAdjointEigenSolver<MatrixXd> solver(inverse.asDiagonal() * covariance * inverse.asDiagonal());
  const VectorXd& size = solver.eigenvalues();
  const Index none = (size.array() <= kLeast).count();  // they rise
  return sd.asDiagonal() * solver.eigenvectors().rightCols(size.size() - none) *
         size.tail(size.size() - none).cwiseSqrt().asDiagonal();
}

bool takes_either_sign(Part part) {
  return part == Part::fixed_moment || part == Part::scale_a || part == Part::scale_b || part == Part::bending_end;
}

Scale scale_of(const DoubtfulPart& p, double radius) {
  constexpr double kWide = 0.5;  // of a number: beyond it a straight line would soon be through zero
  if (p.part == Part::bending_end) return Scale::end_shape;
  return takes_either_sign(p.part) || !(p.value > 0) || radius * p.along.norm() < kWide * p.value ? Scale::linear
                                                                                                  : Scale::logarithm;
}

// The part of `off` that a lag's logarithm may be off. One known to several times itself would be let off by exp of
// that, to seconds; a straight line goes to 1 + off and no further. What may be near nothing (stiffness, damping,
// inertia) keeps the whole, since there the small end is the one that tells.
double kept_of_wide(Part part, double off) {
  const bool lag = part == Part::delay || part == Part::lag;
  return lag && off > 0 ? std::log1p(off) / off : 1;
}

// Collects parts; `along` is of value_of's number.
struct Collector {
  const dynamics::Plant& plant;
  JointDoubt out;
  // Good until the next part is asked for: a new one may move the others.
  VectorXd& at(Part part) {
    for (DoubtfulPart& p : out.parts)
      if (p.part == part) return p.along;
    out.parts.push_back({part, Scale::linear, number_of(plant, part), VectorXd::Zero(out.directions)});
    return out.parts.back().along;
  }
  void add(Part part, const VectorXd& along) {
    if (!along.allFinite() || along.norm() == 0) return;
    at(part) += along;
  }
  void alone(Part part, double sd, Index direction) { add(part, sd * VectorXd::Unit(out.directions, direction)); }
  // To first order, from frequency, ratio, mass and end shape.
  void turn_bending() {
    if (!(plant.bending_hz > 0)) return;
    const VectorXd hz = at(Part::bending_hz) / plant.bending_hz,
                   ratio = at(Part::bending_damping) / plant.bending_damping;
    const VectorXd end = at(Part::bending_end) / plant.bending_end_shape;
    const VectorXd mass = at(Part::bending_mass) / plant.bending_mass_kg - 2 * end;
    at(Part::bending_mass) = number_of(plant, Part::bending_mass) * mass;
    at(Part::bending_hz) = number_of(plant, Part::bending_hz) * (2 * hz + mass);
    at(Part::bending_damping) = number_of(plant, Part::bending_damping) * (hz + ratio + mass);
  }
  void choose_scales() {
    for (DoubtfulPart& p : out.parts) {
      p.scale = scale_of(p, out.radius);
      p.along /= slope_of(p);
      if (p.scale == Scale::logarithm) p.along *= kept_of_wide(p.part, out.radius * p.along.norm());
    }
  }
};

void add_response(Collector& all, const Identified& id) {
  const auto count = static_cast<Index>(id.grey.parameters.size());
  const MatrixXd b = directions_of(id.grey.covariance);
  const VectorXd fitted = identification::grey_parameters(id.grey.plant);
  const double g = id.scale.common.value;
  for (Index j = 0; j < count; ++j) {
    VectorXd along = VectorXd::Zero(all.out.directions);
    along.head(b.cols()) = identification::grey_slope(static_cast<int>(j), fitted[j]) * b.row(j).transpose();
    if (j == identification::kGreyImbalance) {
      all.add(Part::scale_a, g * along), all.add(Part::scale_b, -g * along);
      continue;
    }
    const Part part = part_of_grey(static_cast<int>(j));
    all.add(part, is_time_or_shape(part) ? along : VectorXd(g * along));
  }
  const double sd = g * id.motion.carriage_mass_kg.sd, y = id.response_carriage_y_m;
  all.alone(Part::carriage_mass, sd, count);
  all.alone(Part::fixed_mass, -sd, count);
  all.alone(Part::fixed_moment, -sd * y, count);
  all.alone(Part::fixed_inertia, -sd * y * y, count);
  all.alone(Part::viscous_a, g * id.motion.viscous_a_n_s_per_m.sd, count + 1);
  all.alone(Part::viscous_b, g * id.motion.viscous_b_n_s_per_m.sd, count + 2);
}

void add_motion(Collector& all, const Identified& id) {
  using namespace identification;
  const double g = id.scale.common.value, span = id.plant.span_m;
  const std::pair<Part, std::pair<Unknown, double>> rows[] = {{Part::fixed_mass, {kMass0, g}},
                                                              {Part::carriage_mass, {kCarriage, g}},
                                                              {Part::fixed_moment, {kMoment0, g * span}},
                                                              {Part::fixed_inertia, {kInertia0, g * span * span}},
                                                              {Part::yaw_stiffness, {kStiffness, g * span * span}},
                                                              {Part::yaw_damping, {kDamping, g * span * span}},
                                                              {Part::viscous_a, {kViscousA, g}},
                                                              {Part::viscous_b, {kViscousB, g}},
                                                              {Part::scale_a, {kImbalance, g}},
                                                              {Part::scale_b, {kImbalance, -g}},
                                                              {Part::delay, {kLagMass, 1 / id.motion.mass_kg.value}}};
  const MatrixXd b = directions_of(id.motion.covariance.topLeftCorner(kFixedCount, kFixedCount));
  for (const auto& [part, of] : rows) {
    VectorXd along = VectorXd::Zero(all.out.directions);
    along.head(b.cols()) = of.second * b.row(of.first).transpose();
    all.add(part, along);
  }
}

}  // namespace

double number_of(const dynamics::Plant& plant, Part part) {
  const double w = 2 * std::numbers::pi * plant.bending_hz;
  if (part == Part::bending_hz) return plant.bending_mass_kg * w * w;
  if (part == Part::bending_damping) return plant.bending_mass_kg * 2 * plant.bending_damping * w;
  dynamics::Plant copy = plant;
  return value_of(copy, part);
}

double value_at(const DoubtfulPart& p, double off) {
  if (p.scale == Scale::linear) return p.value + off;
  if (p.scale == Scale::logarithm) return p.value * std::exp(off);
  const int end = identification::kGreyBendingEnd;
  return identification::grey_value(end, identification::grey_parameter(end, p.value) + off);
}

double slope_of(const DoubtfulPart& p) {
  if (p.scale == Scale::linear) return 1;
  if (p.scale == Scale::logarithm) return p.value;
  const int end = identification::kGreyBendingEnd;
  return identification::grey_slope(end, identification::grey_parameter(end, p.value));
}

double joint_radius(Index directions) {
  return directions > 0 ? std::sqrt(math::chi_square_quantile(0.95, static_cast<double>(directions))) : 0;
}

JointDoubt joint_doubt(const Identified& id) {
  Collector all{id.plant, {}};
  const bool response = id.grey.done && id.grey.covariance.rows() > 0;
  if (!response && id.motion.covariance.rows() < identification::kFixedCount) return all.out;
  all.out.directions =
      response ? static_cast<Index>(id.grey.parameters.size()) + 3 : Index{identification::kFixedCount};
  if (response)
    add_response(all, id);
  else
    add_motion(all, id);
  all.turn_bending();
  // Only directions along which something moves count.
  std::erase_if(all.out.parts, [](const DoubtfulPart& p) { return !(p.along.norm() > 0); });
  MatrixXd along(static_cast<Index>(all.out.parts.size()), all.out.directions);
  for (Index k = 0; k < along.rows(); ++k) along.row(k) = all.out.parts[static_cast<size_t>(k)].along;
  const MatrixXd b = directions_of(along * along.transpose());
  all.out.directions = b.cols();
  for (Index k = 0; k < along.rows(); ++k) all.out.parts[static_cast<size_t>(k)].along = b.row(k).transpose();
  all.out.radius = joint_radius(all.out.directions);
  all.choose_scales();
  return all.out;
}

dynamics::Plant plant_at(const dynamics::Plant& plant, const JointDoubt& doubt, const VectorXd& c) {
  dynamics::Plant out = plant;
  double mass = number_of(plant, Part::bending_mass), stiffness = number_of(plant, Part::bending_hz),
         damping = number_of(plant, Part::bending_damping);
  for (const DoubtfulPart& p : doubt.parts) {
    const double off = value_at(p, p.along.dot(c)), value = takes_either_sign(p.part) ? off : std::max(0.0, off);
    if (p.part == Part::bending_mass)
      mass = value;
    else if (p.part == Part::bending_hz)
      stiffness = value;
    else if (p.part == Part::bending_damping)
      damping = value;
    else
      value_of(out, p.part) = value;
  }
  dynamics::bound_moment(out);
  if (!(plant.bending_hz > 0)) return out;
  const double w = std::sqrt(stiffness / mass);
  out.bending_hz = w / (2 * std::numbers::pi);
  out.bending_damping = damping / (2 * w * mass);
  out.bending_mass_kg = mass * std::pow(out.bending_end_shape / plant.bending_end_shape, 2);
  return out;
}

PlantDraws::PlantDraws(const Identified& id) : plant_(id.plant), doubt_(joint_doubt(id)) {
  using namespace identification;
  // Drawn below, together with Coulomb friction.
  std::erase_if(doubt_.parts,
                [](const DoubtfulPart& p) { return p.part == Part::viscous_a || p.part == Part::viscous_b; });
  if (id.motion.covariance.rows() <= kViscousB) return;
  const Unknown rows[] = {kCoulombA, kCoulombB, kViscousA, kViscousB};
  Eigen::Matrix4d covariance;
  for (Index i = 0; i < 4; ++i)
    for (Index j = 0; j < 4; ++j) covariance(i, j) = id.motion.covariance(rows[i], rows[j]);
  friction_ = id.scale.common.value * directions_of(covariance);
}

dynamics::Plant PlantDraws::draw(math::Random& random) const {
  VectorXd c(doubt_.directions);
  for (double& x : c) x = random.normal();
  if (c.norm() > doubt_.radius) c *= doubt_.radius / c.norm();
  dynamics::Plant out = plant_at(plant_, doubt_, c);
  if (friction_.cols() == 0) return out;
  VectorXd own(friction_.cols());
  for (double& x : own) x = random.normal();
  const VectorXd off = friction_ * own;
  const auto move = [](double& value, double by) { value = std::max(0.0, value + by); };
  move(out.a.coulomb_n, off[0]), move(out.b.coulomb_n, off[1]);
  move(out.a.viscous_n_s_per_m, off[2]), move(out.b.viscous_n_s_per_m, off[3]);
  return out;
}

VectorXd drawn_direction(const JointDoubt& doubt, double part, bool on_surface, math::Random& random) {
  VectorXd c(doubt.directions);
  for (double& x : c) x = random.normal();
  if (c.size() == 0 || !(c.norm() > 0)) return c;
  const double inside = std::pow(random.uniform(), 1 / static_cast<double>(c.size()));
  return part * doubt.radius * (on_surface ? 1 : inside) / c.norm() * c;
}

}  // namespace evenbeam::tuning
