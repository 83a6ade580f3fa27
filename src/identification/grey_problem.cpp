#include "identification/grey_problem.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::identification {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double kHuber = 3;
constexpr double kFarthest = 60;   // of logarithms: 1e26, far from any machine and from overflow
constexpr double kAliased = 0.08;  // of the servo rate; below it the aliases of a mass are under 0.1 %
constexpr size_t kBlocks = 16;

// Rows for M, S and J of everything on rigid drives: deviation in spreads and its derivatives.
void add_sums(const dynamics::Plant& p, const GreyPrior& prior, Index row, VectorXd& r, MatrixXd* jacobian) {
  r[row] = (dynamics::total_mass_kg(p) - prior.mass_kg) / prior.mass_sd_kg;
  r[row + 1] = (dynamics::first_moment_kg_m(p) - prior.moment_kg_m) / prior.moment_sd_kg_m;
  r[row + 2] = (dynamics::yaw_inertia_kg_m2(p) - prior.inertia_kg_m2) / prior.inertia_sd_kg_m2;
  if (!jacobian) return;
  MatrixXd& j = *jacobian;
  for (int side = 0; side < 2; ++side) {
    const double m = side == 0 ? p.a.motor_mass_kg : p.b.motor_mass_kg, y = (side == 0 ? -0.5 : 0.5) * p.span_m;
    j(row, kGreyMotorA + side) = m / prior.mass_sd_kg;
    j(row + 1, kGreyMotorA + side) = m * y / prior.moment_sd_kg_m;
    j(row + 2, kGreyMotorA + side) = m * y * y / prior.inertia_sd_kg_m2;
  }
  j(row, kGreyFixedMass) = p.fixed_mass_kg / prior.mass_sd_kg;
  j(row + 1, kGreyFixedMoment) = 1 / prior.moment_sd_kg_m;
  j(row + 2, kGreyFixedInertia) = p.fixed_inertia_kg_m2 / prior.inertia_sd_kg_m2;
}

}  // namespace

GreyPrior grey_prior(const dynamics::Plant& start, const MotionFit& motion, const machine::Machine& machine) {
  GreyPrior p{grey_parameters(start), VectorXd::Constant(static_cast<int>(kGreyCount), 1.0)};
  p.spread[kGreyImbalance] = 0.05;
  p.centre[kGreyImbalance] = 0;
  for (int j : {kGreyMotorA, kGreyMotorB}) {
    const auto& side = j == kGreyMotorA ? machine.a : machine.b;
    p.spread[j] = machine::reflected_mass_kg(side) ? 0.1 : 1.0;
  }
  for (int j : {kGreyStiffnessA, kGreyStiffnessB, kGreyDampingA, kGreyDampingB}) p.spread[j] = 2;
  for (int j : {kGreyFixedMass, kGreyFixedInertia, kGreyYawStiffness, kGreyYawDamping}) p.spread[j] = 2;
  p.spread[kGreyFixedMoment] = 0.1 * dynamics::total_mass_kg(start) * start.span_m;
  p.spread[kGreyDelay] = machine.delay_samples && machine.servo_period_s ? 0.7 : 1.5;
  p.spread[kGreyLag] = 1.5;
  p.spread[kGreyBendingHz] = 2;
  p.spread[kGreyBendingDamping] = 1.5;
  p.spread[kGreyBendingMass] = 0.7;
  p.spread[kGreyBendingEnd] = 1.2;
  const double mass = motion.mass_kg.value + start.payload_kg, span = start.span_m;
  p.mass_kg = mass;
  p.mass_sd_kg = std::numbers::sqrt2 * std::max(motion.mass_kg.sd, 1e-3 * mass);
  p.moment_kg_m = dynamics::first_moment_kg_m(start);
  p.moment_sd_kg_m = std::max(1.4 * motion.moment_kg_m.sd, 0.03 * mass * span);
  p.inertia_kg_m2 = dynamics::yaw_inertia_kg_m2(start);
  p.inertia_sd_kg_m2 = 0.08 * mass * span * span;  // half of what a plain gantry has
  return p;
}

GreyProblem::GreyProblem(dynamics::Plant base, std::vector<GreyLine> lines, GreyPrior prior, double hold_s)
    : base_(std::move(base)),
      lines_(std::move(lines)),
      prior_(std::move(prior)),
      count_(base_.bending_hz > 0 ? static_cast<int>(kGreyCount) : static_cast<int>(kGreyBendingHz)) {
  for (const GreyLine& line : lines_) {
    hz_.push_back(line.hz);
    if (line.hz * hold_s < kAliased) {
      ++alias_from_;
      continue;
    }
    for (double n : {-1.0, 1.0}) {
      alias_hz_.push_back(line.hz + n / hold_s);
      alias_part_.push_back(line.hz / alias_hz_.back());
    }
  }
}

GreyResponse GreyProblem::response(const VectorXd& x, bool derivatives) const {
  const VectorXd full = padded(x);
  GreyResponse out = grey_response(base_, full, count_, hz_, derivatives);
  if (alias_hz_.empty()) return out;
  const GreyResponse alias = grey_response(base_, full, count_, alias_hz_, derivatives);
  for (size_t i = 0; i < alias_hz_.size(); ++i) {
    const size_t line = alias_from_ + i / 2;
    for (size_t k = 0; k < 4; ++k) {
      out.g[line][k] += alias_part_[i] * alias.g[i][k];
      for (size_t j = 0; derivatives && j < static_cast<size_t>(count_); ++j)
        out.d[line][j][k] += alias_part_[i] * alias.d[i][j][k];
    }
  }
  return out;
}

VectorXd GreyProblem::padded(const VectorXd& x) const {
  VectorXd full = prior_.centre;
  full.head(x.size()) = x;
  return full;
}

bool GreyProblem::operator()(const VectorXd& x, VectorXd& r, MatrixXd* jacobian) const {
  const VectorXd full = padded(x);
  if (!inside(full)) return false;
  const GreyResponse model = response(x, jacobian != nullptr);
  const Index rows = 8 * static_cast<Index>(lines_.size());
  r.resize(rows + count_ + 3);
  if (jacobian) jacobian->setZero(r.size(), count_);
  for (size_t i = 0; i < lines_.size(); ++i)
    for (size_t k = 0; k < 4; ++k) add_entry(model, i, k, r, jacobian);
  for (int j = 0; j < count_; ++j) {
    r[rows + j] = (x[j] - prior_.centre[j]) / prior_.spread[j];
    if (jacobian) (*jacobian)(rows + j, j) = 1 / prior_.spread[j];
  }
  add_sums(grey_plant(base_, full), prior_, rows + count_, r, jacobian);
  return true;
}

// What the logarithms do not see to by themselves.
bool GreyProblem::inside(const VectorXd& p) const {
  if (!p.allFinite() || std::abs(p[kGreyImbalance]) > 0.5) return false;
  for (int j = 0; j < count_; ++j)
    if (j != kGreyFixedMoment && std::abs(p[j]) > kFarthest) return false;
  const dynamics::Plant plant = grey_plant(base_, p);
  const double moment = plant.fixed_moment_kg_m;
  return plant.delay_s < 0.02 && plant.current_lag_s < 0.1 &&
         plant.fixed_inertia_kg_m2 * plant.fixed_mass_kg > moment * moment;
}

// One complex entry as two rows; large misfits count linearly (Huber), by scaling the row.
void GreyProblem::add_entry(const GreyResponse& model, size_t i, size_t k, VectorXd& r, MatrixXd* jacobian) const {
  const Index at = 8 * static_cast<Index>(i) + 2 * static_cast<Index>(k);
  const double by = 1 / lines_[i].sigma[k];
  const Complex miss = (model.g[i][k] - lines_[i].g[k]) * by;
  const double size = std::sqrt(std::norm(miss));
  const double soften = size > kHuber ? std::sqrt(kHuber * (2 * size - kHuber)) / size : 1;
  // d(soften * miss): for large misfits the part along the miss shrinks by (kHuber/size)/soften.
  const double along = size > kHuber ? kHuber / (size * soften) : 1;
  r[at] = soften * miss.real();
  r[at + 1] = soften * miss.imag();
  if (!jacobian) return;
  for (int j = 0; j < count_; ++j) {
    const Complex d = model.d[i][static_cast<size_t>(j)][k] * by;
    Complex moved = soften * d;
    if (size > kHuber) {
      const double part = (d.real() * miss.real() + d.imag() * miss.imag()) / (size * size);
      moved = soften * (d - part * miss) + along * part * miss;
    }
    (*jacobian)(at, j) = moved.real();
    (*jacobian)(at + 1, j) = moved.imag();
  }
}

MatrixXd block_covariance(const GreyProblem& problem, const VectorXd& x, double misfit) {
  VectorXd r;
  MatrixXd jacobian;
  problem(x, r, &jacobian);
  const Index n = problem.count(), rows = 8 * static_cast<Index>(problem.lines().size());
  const VectorXd scale = jacobian.colwise().norm().cwiseMax(1e-300);
  const MatrixXd scaled = jacobian * scale.cwiseInverse().asDiagonal();
  const MatrixXd inverse = MatrixXd(scaled.transpose() * scaled).inverse();
  const MatrixXd known = scaled.bottomRows(r.size() - rows);
  MatrixXd middle = known.transpose() * known;  // what is known beforehand has the spread it states
  const Index blocks = static_cast<Index>(std::min(kBlocks, problem.lines().size() / 4)), lines = rows / 8;
  for (Index b = 0; b < blocks; ++b) {
    const Index from = 8 * (b * lines / blocks), to = 8 * ((b + 1) * lines / blocks);
    const VectorXd score = scaled.middleRows(from, to - from).transpose() * r.segment(from, to - from);
    middle += score * score.transpose() * (static_cast<double>(blocks) / static_cast<double>(blocks - 1));
  }
  MatrixXd out = inverse * middle * inverse;
  const double least = std::max(1.0, misfit * misfit);
  VectorXd widen(n);
  for (Index j = 0; j < n; ++j) widen[j] = std::sqrt(std::max(1.0, least * inverse(j, j) / out(j, j))) / scale[j];
  return widen.asDiagonal() * out * widen.asDiagonal();
}

ResponseKnowledge response_knowledge(const GreyProblem& problem, const VectorXd& x, const MatrixXd& covariance) {
  const auto values = [&](const VectorXd& at) {
    const dynamics::Plant p = problem.plant(at);
    return ResponseKnowledge::Numbers{(p.a.force_scale - p.b.force_scale) / 2, dynamics::first_moment_kg_m(p),
                                      dynamics::yaw_inertia_kg_m2(p), p.yaw_stiffness_n_m_per_rad,
                                      p.yaw_damping_n_m_s_per_rad};
  };
  ResponseKnowledge out;
  out.known = true;
  out.value = values(x);
  Eigen::Matrix<double, 5, Eigen::Dynamic> slope(5, x.size());
  for (Eigen::Index j = 0; j < x.size(); ++j) {
    const double step = 1e-5 * std::max(1.0, std::abs(x[j]));
    VectorXd up = x, down = x;
    up[j] += step;
    down[j] -= step;
    slope.col(j) = (values(up) - values(down)) / (2 * step);
  }
  out.covariance = slope * covariance * slope.transpose();
  out.carriage_y_m = problem.plant(x).carriage_y_m;
  out.payload_kg = problem.plant(x).payload_kg;
  return out;
}

}  // namespace evenbeam::identification
