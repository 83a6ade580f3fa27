#include "identification/grey_box.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "base/check.h"
#include "dynamics/beam.h"
#include "identification/motion_rows.h"
#include "math/levenberg_marquardt.h"

namespace evenbeam::identification {
namespace {

using Eigen::VectorXd;

constexpr double kOwnAllowance = 0.01;     // of the entry itself
constexpr double kCrossAllowance = 0.003;  // of the largest entry of the line
constexpr double kUsable = 0.15;           // a line counts where its deviation is below this part of the larger entry
constexpr size_t kMostLines = 160;
constexpr double kHuber = 3;

struct Line {
  double hz = 0;
  Sides g{};
  std::array<double, 4> sigma{};
};

// (1 - e^{-jx})/(jx), x = w T: what holding the force over a servo period adds.
Complex hold_response(double x) {
  return std::abs(x) < 1e-9 ? Complex(1) : std::polar(2 * std::sin(x / 2) / x, -x / 2);
}

// Lines that carry information, thinned evenly in log frequency.
std::vector<Line> usable_lines(const signal::Response& r, double hold_s) {
  std::vector<Line> all;
  for (size_t i = 0; i < r.frequency_hz.size(); ++i) {
    const auto& m = r.g[i];
    Sides g{m.aa, m.ab, m.ba, m.bb};
    const Complex hold = hold_response(2 * std::numbers::pi * r.frequency_hz[i] * hold_s);
    for (Complex& entry : g) entry /= hold;
    const std::array<double, 4> sd = signal::standard_deviations(r.covariance[i]);
    double largest = 0, noise = 0;
    for (size_t k = 0; k < 4; ++k) largest = std::max(largest, std::abs(g[k])), noise = std::max(noise, sd[k]);
    if (!(largest > 0) || !(noise < kUsable * largest)) continue;
    Line line{r.frequency_hz[i], g, {}};
    for (size_t k = 0; k < 4; ++k)
      line.sigma[k] = std::sqrt(sd[k] * sd[k] + std::pow(kOwnAllowance * std::abs(g[k]), 2) +
                                std::pow(kCrossAllowance * largest, 2));
    all.push_back(line);
  }
  if (all.size() <= kMostLines) return all;
  std::vector<Line> out;
  const double from = std::log(all.front().hz), to = std::log(all.back().hz);
  double next = from;
  for (const Line& line : all) {
    if (std::log(line.hz) < next) continue;
    out.push_back(line);
    next = std::max(next, std::log(line.hz)) + (to - from) / static_cast<double>(kMostLines);
  }
  return out;
}

struct Prior {
  VectorXd centre, spread;  // in parameter space; spread infinite = none
};

// From the motion fit (counted at half its own weight, since both may rest on the same captures) and from the papers.
Prior prior_of(const dynamics::Plant& start, const MotionFit& motion, const machine::Machine& machine) {
  const double none = std::numeric_limits<double>::infinity();
  Prior p{grey_parameters(start), VectorXd::Constant(static_cast<int>(kGreyCount), none)};
  p.spread[kGreyImbalance] = std::max(1.4 * motion.force_imbalance.sd, 1e-4);
  for (int j : {kGreyMotorA, kGreyMotorB}) {
    const auto& side = j == kGreyMotorA ? machine.a : machine.b;
    p.spread[j] = machine::reflected_mass_kg(side) ? 0.1 : 1.0;
  }
  for (int j : {kGreyStiffnessA, kGreyStiffnessB}) p.spread[j] = 2.0;
  for (int j : {kGreyDampingA, kGreyDampingB}) p.spread[j] = 2.0;
  p.spread[kGreyDelay] = 5e-4;
  p.spread[kGreyLag] = 1.5;
  p.spread[kGreyBendingHz] = 2.0;
  p.spread[kGreyBendingDamping] = 1.5;
  p.spread[kGreyBendingMass] = 0.7;
  p.spread[kGreyBendingEnd] = 0.5;
  return p;
}

// Rows for sums that the motion fit knows: M, S and J of everything on rigid drives, K, C.
struct SumRow {
  double centre = 0, sd = 1;
  double (*value)(const dynamics::Plant&) = nullptr;
};

std::vector<SumRow> sum_rows(const MotionFit& motion, const dynamics::Plant& start) {
  const double widen = std::numbers::sqrt2;
  std::vector<SumRow> rows{
      {motion.mass_kg.value, widen * std::max(motion.mass_kg.sd, 1e-3 * motion.mass_kg.value),
       [](const dynamics::Plant& p) { return dynamics::total_mass_kg(p); }},
      {motion.moment_kg_m.value, widen * std::max(motion.moment_kg_m.sd, 1e-4 * motion.mass_kg.value * start.span_m),
       [](const dynamics::Plant& p) { return dynamics::first_moment_kg_m(p); }},
      {motion.inertia_kg_m2.value, widen * std::max(motion.inertia_kg_m2.sd, 5e-3 * motion.inertia_kg_m2.value),
       [](const dynamics::Plant& p) { return dynamics::yaw_inertia_kg_m2(p); }},
      {motion.yaw_stiffness_n_m_per_rad.value,
       widen * std::max(motion.yaw_stiffness_n_m_per_rad.sd, 5e-3 * std::abs(motion.yaw_stiffness_n_m_per_rad.value)),
       [](const dynamics::Plant& p) { return p.yaw_stiffness_n_m_per_rad; }}};
  return rows;
}

class Problem {
 public:
  Problem(dynamics::Plant base, std::vector<Line> lines, Prior prior, std::vector<SumRow> sums, bool bends)
      : base_(std::move(base)),
        lines_(std::move(lines)),
        prior_(std::move(prior)),
        sums_(std::move(sums)),
        count_(bends ? static_cast<int>(kGreyCount) : static_cast<int>(kGreyBendingHz)) {
    for (const Line& line : lines_) hz_.push_back(line.hz);
  }
  int count() const { return count_; }
  const std::vector<Line>& lines() const { return lines_; }
  const std::vector<double>& hz() const { return hz_; }

  bool operator()(const VectorXd& x, VectorXd& r, Eigen::MatrixXd* jacobian) const {
    const VectorXd full = padded(x);
    if (!inside(full)) return false;
    const GreyResponse model = grey_response(base_, full, count_, hz_, jacobian != nullptr);
    const Eigen::Index rows = 8 * static_cast<Eigen::Index>(lines_.size());
    r.resize(rows + count_ + static_cast<Eigen::Index>(sums_.size()));
    if (jacobian) jacobian->setZero(r.size(), count_);
    for (size_t i = 0; i < lines_.size(); ++i)
      for (size_t k = 0; k < 4; ++k) add_entry(model, i, k, r, jacobian);
    for (int j = 0; j < count_; ++j) {
      r[rows + j] = (x[j] - prior_.centre[j]) / prior_.spread[j];
      if (!std::isfinite(prior_.spread[j])) r[rows + j] = 0;
      if (jacobian) (*jacobian)(rows + j, j) = std::isfinite(prior_.spread[j]) ? 1 / prior_.spread[j] : 0;
    }
    for (size_t k = 0; k < sums_.size(); ++k)
      add_sum(k, full, rows + count_ + static_cast<Eigen::Index>(k), r, jacobian);
    return true;
  }

  VectorXd padded(const VectorXd& x) const {
    VectorXd full = prior_.centre;
    full.head(x.size()) = x;
    return full;
  }

 private:
  bool inside(const VectorXd& p) const {
    const bool ranges = std::abs(p[kGreyImbalance]) < 0.5 && p[kGreyDelay] >= 0 && p[kGreyDelay] < 0.02 &&
                        p[kGreyBendingEnd] < -0.02 && p[kGreyBendingEnd] > -1.64 && p.allFinite() &&
                        p.cwiseAbs().maxCoeff() < 60;
    return ranges && dynamics::plant_troubles(grey_plant(base_, p)).empty();
  }

  // One complex entry as two rows; large misfits count linearly (Huber), by scaling the row.
  void add_entry(const GreyResponse& model, size_t i, size_t k, VectorXd& r, Eigen::MatrixXd* jacobian) const {
    const Eigen::Index at = 8 * static_cast<Eigen::Index>(i) + 2 * static_cast<Eigen::Index>(k);
    const Complex miss = (model.g[i][k] - lines_[i].g[k]) / lines_[i].sigma[k];
    const double size = std::abs(miss);
    const double soften = size > kHuber ? std::sqrt(kHuber * (2 * size - kHuber)) / size : 1;
    // d(soften * miss): for large misfits the part along the miss shrinks by (kHuber/size)/soften.
    const double along = size > kHuber ? kHuber / (size * soften) : 1;
    r[at] = soften * miss.real();
    r[at + 1] = soften * miss.imag();
    if (!jacobian) return;
    for (int j = 0; j < count_; ++j) {
      const Complex d = model.d[i][static_cast<size_t>(j)][k] / lines_[i].sigma[k];
      Complex moved = soften * d;
      if (size > kHuber) {
        const double part = (d.real() * miss.real() + d.imag() * miss.imag()) / (size * size);
        moved = soften * (d - part * miss) + along * part * miss;
      }
      (*jacobian)(at, j) = moved.real();
      (*jacobian)(at + 1, j) = moved.imag();
    }
  }

  void add_sum(size_t k, const VectorXd& full, Eigen::Index row, VectorXd& r, Eigen::MatrixXd* jacobian) const {
    const SumRow& sum = sums_[k];
    r[row] = (sum.value(grey_plant(base_, full)) - sum.centre) / sum.sd;
    for (int j = 0; jacobian && j < count_; ++j) {
      VectorXd up = full, down = full;
      up[j] += 1e-6;
      down[j] -= 1e-6;
      (*jacobian)(row, j) = (sum.value(grey_plant(base_, up)) - sum.value(grey_plant(base_, down))) / (2e-6 * sum.sd);
    }
  }

  dynamics::Plant base_;
  std::vector<Line> lines_;
  std::vector<double> hz_;
  Prior prior_;
  std::vector<SumRow> sums_;
  int count_;
};

// Motor masses, drive and bending guesses put into the plant that the motion fit knows as a whole.
dynamics::Plant guess(const MotionFit& motion, const machine::Machine& machine, double drive_hz, double bending_hz) {
  dynamics::Plant p = rigid_plant(motion, machine);
  const double total = dynamics::total_mass_kg(p);
  const double part = 0.15 * total;
  double a = machine::reflected_mass_kg(machine.a).value_or(part),
         b = machine::reflected_mass_kg(machine.b).value_or(part);
  const double most = 0.4 * (total - p.carriage_mass_kg);
  a = std::min(a, most);
  b = std::min(b, most);
  p.fixed_mass_kg -= a + b;
  p.fixed_moment_kg_m -= (b - a) * p.span_m / 2;
  p.fixed_inertia_kg_m2 = std::max(p.fixed_inertia_kg_m2 - (a + b) * p.span_m * p.span_m / 4,
                                   0.05 * p.fixed_mass_kg * p.span_m * p.span_m);
  const double w = 2 * std::numbers::pi * drive_hz;
  for (auto* side : {&p.a, &p.b}) {
    side->motor_mass_kg = side == &p.a ? a : b;
    const double load = std::max(total / 2 - side->motor_mass_kg, 0.1 * total);
    const double reduced = side->motor_mass_kg * load / (side->motor_mass_kg + load);
    side->drive_stiffness_n_per_m = reduced * w * w;
    side->drive_damping_n_s_per_m = 2 * 0.03 * reduced * w;
  }
  p.current_lag_s = std::max(1e-4, 0.5 * motion.lag_s.value);
  p.delay_s = std::max(5e-5, motion.lag_s.value - p.current_lag_s);
  if (bending_hz > 0) {
    const double beam = machine.bridge_mass_kg.value_or(0.4 * p.fixed_mass_kg);
    const auto bend =
        dynamics::bridge_bending(1, beam, p.span_m, std::max(0.01 * beam, (p.fixed_mass_kg - beam) / 2));
    p.bending_hz = bending_hz;
    p.bending_damping = 0.01;
    p.bending_mass_kg = bend.modal_mass_kg;
    p.bending_end_shape = std::clamp(bend.end_shape, -1.6, -0.05);
  }
  return p;
}

struct Start {
  dynamics::Plant plant;
  VectorXd x;
  double cost = std::numeric_limits<double>::infinity();
};

std::vector<Start> grid_of_starts(const std::vector<Line>& lines, const MotionFit& motion,
                                  const machine::Machine& machine) {
  std::vector<Line> few;
  for (size_t i = 0; i < lines.size(); i += std::max<size_t>(1, lines.size() / 50)) few.push_back(lines[i]);
  const double top = lines.back().hz;
  std::vector<Start> starts;
  for (double drive_hz = 30; drive_hz < 1.6 * top; drive_hz *= 1.45)
    for (double bending_hz : {0.0, 0.12 * top, 0.2 * top, 0.33 * top, 0.55 * top, 0.9 * top}) {
      Start s{guess(motion, machine, drive_hz, bending_hz), {}, 0};
      if (!dynamics::plant_troubles(s.plant).empty()) continue;
      const Problem problem(s.plant, few, prior_of(s.plant, motion, machine), sum_rows(motion, s.plant),
                            bending_hz > 0);
      const auto r =
          math::minimise(std::cref(problem), grey_parameters(s.plant).head(problem.count()), {.most_iterations = 12});
      if (!r.usable()) continue;
      s.x = r.x;
      s.cost = r.half_squares;
      starts.push_back(std::move(s));
    }
  std::sort(starts.begin(), starts.end(), [](const Start& a, const Start& b) { return a.cost < b.cost; });
  return starts;
}

void fill(GreyFit& fit, const Problem& problem, const dynamics::Plant& base, const Prior& prior,
          const math::MarquardtResult& r) {
  const VectorXd full = problem.padded(r.x);
  fit.plant = grey_plant(base, full);
  const GreyResponse model = grey_response(base, full, problem.count(), problem.hz(), false);
  fit.hz = problem.hz();
  fit.modelled = model.g;
  double squares = 0, relative = 0;
  for (size_t i = 0; i < fit.hz.size(); ++i) {
    const Line& line = problem.lines()[i];
    fit.measured.push_back(line.g);
    for (size_t k = 0; k < 4; ++k) {
      squares += std::norm((model.g[i][k] - line.g[k]) / line.sigma[k]);
      relative += std::norm(model.g[i][k] - line.g[k]) / std::norm(line.g[k]);
    }
  }
  const double entries = 4 * static_cast<double>(fit.hz.size());
  fit.misfit = std::sqrt(squares / (2 * entries));
  fit.within = std::sqrt(relative / entries);
  const double widen = std::max(1.0, fit.misfit);
  for (int j = 0; j < problem.count(); ++j) {
    const double sd_parameter = widen * std::sqrt(r.covariance(j, j));
    const double value = grey_value(j, full[j]), sd = grey_slope(j, full[j]) * sd_parameter;
    const double spread = prior.spread[j];
    const double from_data = std::isfinite(spread) ? std::clamp(1 - std::pow(sd_parameter / spread, 2), 0.0, 1.0) : 1;
    fit.parameters.push_back(math::with_sd(value, sd, from_data));
  }
}

}  // namespace

dynamics::Plant rigid_plant(const MotionFit& motion, const machine::Machine& machine) {
  base::check(motion.done, "a plant needs a finished motion fit");
  dynamics::Plant p;
  p.span_m = machine.span_m;
  p.carriage_mass_kg = std::max(0.0, motion.carriage_mass_kg.value);
  p.carriage_y_m = motion.carriage_y_m;
  p.fixed_mass_kg = motion.mass_kg.value - p.carriage_mass_kg;
  p.fixed_moment_kg_m = motion.moment_kg_m.value - p.carriage_mass_kg * p.carriage_y_m;
  p.fixed_inertia_kg_m2 =
      std::max(1e-3, motion.inertia_kg_m2.value - p.carriage_mass_kg * p.carriage_y_m * p.carriage_y_m);
  p.yaw_stiffness_n_m_per_rad = std::max(0.0, motion.yaw_stiffness_n_m_per_rad.value);
  p.yaw_damping_n_m_s_per_rad = std::max(0.0, motion.yaw_damping_n_m_s_per_rad.value);
  if (!motion.switch_ons.empty()) p.stress_free_skew_m = motion.switch_ons.front().stress_free_skew_m.value;
  p.a.coulomb_n = std::max(0.0, motion.coulomb_a_n.value);
  p.b.coulomb_n = std::max(0.0, motion.coulomb_b_n.value);
  p.a.viscous_n_s_per_m = std::max(0.0, motion.viscous_a_n_s_per_m.value);
  p.b.viscous_n_s_per_m = std::max(0.0, motion.viscous_b_n_s_per_m.value);
  p.a.force_scale = 1 + motion.force_imbalance.value;
  p.b.force_scale = 1 - motion.force_imbalance.value;
  p.delay_s = std::max(0.0, motion.lag_s.value);
  p.feedback_on_motor = machine.a.feedback_place == machine::FeedbackPlace::motor;
  return p;
}

GreyFit fit_grey_box(const signal::Response& response, const MotionFit& motion, const machine::Machine& machine) {
  GreyFit fit;
  if (response.state != signal::ResponseState::done) {
    if (!response.reason.empty()) fit.reason = response.reason;
    return fit;
  }
  if (!motion.done) {
    fit.reason = "the motion fit, on which this one builds, was not possible: " + motion.reason;
    return fit;
  }
  const std::vector<Line> lines = usable_lines(response, machine.servo_period_s.value_or(0));
  if (lines.size() < 12) {
    fit.reason = "fewer than 12 usable lines in the measured response";
    return fit;
  }
  std::vector<Start> starts = grid_of_starts(lines, motion, machine);
  double best = std::numeric_limits<double>::infinity();
  for (size_t k = 0; k < std::min<size_t>(4, starts.size()); ++k) {
    const Start& s = starts[k];
    const bool bends = s.plant.bending_hz > 0;
    const Prior prior = prior_of(s.plant, motion, machine);
    const Problem problem(s.plant, lines, prior, sum_rows(motion, s.plant), bends);
    const auto r = math::minimise(std::cref(problem), s.x, {.most_iterations = 120, .step_tolerance = 1e-7});
    if (!r.usable() || !(r.half_squares < best) || !r.covariance.allFinite()) continue;
    best = r.half_squares;
    fit = GreyFit{};
    fill(fit, problem, s.plant, prior, r);
    fit.bends = bends;
    fit.done = true;
    fit.reason.clear();
  }
  if (!fit.done) fit.reason = "no start led to a usable fit of the response";
  return fit;
}

}  // namespace evenbeam::identification
