#include "tuning/skew_doubt.h"

#include <algorithm>
#include <cmath>
#include <functional>

#include "base/side_by_side.h"
#include "tuning/proposal.h"
#include "tuning/sensitivity.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;
using Eigen::VectorXd;
using identification::Identified;

constexpr double kQuantile = 1.959963984540054;
constexpr double kStep = 0.02;         // of a number: small enough for a straight line, far above rounding
constexpr size_t kMostEntries = 2000;  // of a move; a skew error is smoother than a period

// Directions of the joint doubt, then the two Coulomb frictions, in the unit of number_of.
struct Spread {
  std::vector<Part> parts;
  std::vector<VectorXd> along;
};

Spread spread_of(const Identified& id) {
  const JointDoubt doubt = joint_doubt(id);
  const Eigen::Index n = doubt.directions;
  Spread out;
  const auto add = [&](Part part, const VectorXd& along) {
    VectorXd longer = VectorXd::Zero(n + 2);
    longer.head(along.size()) = along;
    out.parts.push_back(part), out.along.push_back(longer);
  };
  for (const DoubtfulPart& p : doubt.parts) add(p.part, slope_of(p) * p.along);
  const double g = id.scale.common.value;
  add(Part::coulomb_a, g * id.motion.coulomb_a_n.sd * VectorXd::Unit(n + 2, n));
  add(Part::coulomb_b, g * id.motion.coulomb_b_n.sd * VectorXd::Unit(n + 2, n + 1));
  return out;
}

Plant moved(const Plant& plant, Part part, double step) {
  if (part == Part::coulomb_a || part == Part::coulomb_b) {
    Plant out = plant;
    value_of(out, part) += step;
    return out;
  }
  JointDoubt one;
  one.parts = {{part, DoubtfulPart::Scale::linear, number_of(plant, part), VectorXd::Constant(1, step)}};
  one.directions = 1;
  return plant_at(plant, one, VectorXd::Ones(1));
}

DoubtSlopes slopes_of(const Identified& id, const std::function<std::vector<double>(const Plant&)>& asked) {
  const Spread spread = spread_of(id);
  DoubtSlopes out{.parts = spread.parts, .slope = std::vector<std::vector<double>>(spread.parts.size())};
  const std::vector<double> as_fitted = asked(id.plant);
  base::side_by_side(spread.parts.size(), base::machine_threads(), [&](size_t k) {
    const double sd = spread.along[k].norm(), number = std::abs(number_of(id.plant, spread.parts[k]));
    const double step = number > 0 ? std::min(sd, kStep * number) : sd;
    std::vector<double>& slope = out.slope[k];
    slope.assign(as_fitted.size(), 0.0);
    if (!(step > 0)) return;
    const std::vector<double> stepped = asked(moved(id.plant, spread.parts[k], step));
    for (size_t i = 0; i < slope.size(); ++i) slope[i] = (stepped[i] - as_fitted[i]) / step;
  });
  return out;
}

}  // namespace

DoubtSlopes skew_slopes(const Identified& id, const ForecastMove& move, const machine::Settings& settings) {
  const size_t every = std::max<size_t>(1, move.reference.mean_m.size() / kMostEntries);
  DoubtSlopes out = slopes_of(id, [&](const Plant& plant) {
    const simulation::RunSeries run = run_move(move, plant, {.common = settings}, {});
    std::vector<double> error;
    for (size_t k = 0; k < run.time_s.size(); k += every)
      error.push_back(run.position_a_m[k] - run.position_b_m[k] - run.reference_a_m[k] + run.reference_b_m[k]);
    return error;
  });
  out.step_s = settings.period_s * static_cast<double>(every);
  out.carriage_y_m = move.carriage_y_m, out.payload_kg = move.payload_kg;
  return out;
}

DoubtSlopes sensitivity_slopes(const Identified& id, double carriage_y_m, double payload_kg,
                               const machine::Settings& settings) {
  DoubtSlopes out = slopes_of(id, [&](const Plant& plant) {
    return std::vector<double>{peak_sensitivity(at_case(plant, {carriage_y_m, payload_kg}), settings).peak};
  });
  out.carriage_y_m = carriage_y_m, out.payload_kg = payload_kg;
  return out;
}

DoubtSize doubt_size(const DoubtSlopes& slopes, const Identified& id) {
  DoubtSize out{.carriage_y_m = slopes.carriage_y_m, .payload_kg = slopes.payload_kg};
  const Spread spread = spread_of(id);
  // A part that no longer moves is no longer listed: its slope then counts for nothing.
  std::vector<const VectorXd*> along(slopes.parts.size(), nullptr);
  for (size_t k = 0; k < slopes.parts.size(); ++k)
    for (size_t j = 0; j < spread.parts.size(); ++j)
      if (spread.parts[j] == slopes.parts[k]) along[k] = &spread.along[j];
  const size_t entries = slopes.slope.empty() ? 0 : slopes.slope.front().size();
  VectorXd most;
  for (size_t i = 0; i < entries; ++i) {
    VectorXd sum = VectorXd::Zero(spread.along.front().size());
    for (size_t k = 0; k < along.size(); ++k)
      if (along[k] != nullptr) sum += slopes.slope[k][i] * *along[k];
    if (most.size() > 0 && sum.norm() <= most.norm()) continue;
    most = sum;
    out.at_s = slopes.step_s * static_cast<double>(i);
  }
  if (most.size() == 0 || !(most.norm() > 0)) return out;
  out.half_width = kQuantile * most.norm();
  for (size_t k = 0; k < along.size(); ++k)
    if (along[k] != nullptr && along[k]->norm() > 0)
      out.causes.push_back({slopes.parts[k], std::pow(along[k]->dot(most) / (along[k]->norm() * most.norm()), 2)});
  std::sort(out.causes.begin(), out.causes.end(),
            [](const DoubtCause& a, const DoubtCause& b) { return a.of_variance > b.of_variance; });
  return out;
}

DoubtSize worst_doubt(const std::vector<DoubtSlopes>& slopes, const Identified& id) {
  DoubtSize worst;
  for (const DoubtSlopes& of : slopes)
    if (DoubtSize size = doubt_size(of, id); size.half_width > worst.half_width) worst = std::move(size);
  return worst;
}

}  // namespace evenbeam::tuning
