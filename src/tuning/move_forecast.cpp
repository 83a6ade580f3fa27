#include "tuning/move_forecast.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "dynamics/linear_response.h"
#include "math/random.h"
#include "math/student.h"
#include "servo/law_response.h"
#include "simulation/batch.h"
#include "trajectory/jerk_limited.h"
#include "tuning/joint_doubt.h"
#include "tuning/proposal.h"
#include "tuning/settling.h"

namespace evenbeam::tuning {
namespace {

constexpr double kSmooth_s = 4e-3;
constexpr double kRest_s = 0.5;
// Parts of each peak for what the plant leaves out: chosen on machines 9101 to 9130 of demo/generator, judged on
// others (docs/loops.md, "Bands").
constexpr double kSkewLeftOut = 0.1, kErrorLeftOut = 0.1, kForceLeftOut = 0.05, kMomentLeftOut = 0.1;

// Two running means of `width` samples: a triangle, so that second differences stay bounded.
std::vector<double> smoothed(std::vector<double> x, int width) {
  const int n = static_cast<int>(x.size()), half = width / 2;
  for (int pass = 0; pass < 2; ++pass) {
    std::vector<double> sum(x.size() + 1, 0.0);
    for (int i = 0; i < n; ++i)
      sum[static_cast<size_t>(i + 1)] = sum[static_cast<size_t>(i)] + x[static_cast<size_t>(i)];
    for (int i = 0; i < n; ++i) {
      const int reach = std::min({half, i, n - 1 - i});
      x[static_cast<size_t>(i)] =
          (sum[static_cast<size_t>(i + reach + 1)] - sum[static_cast<size_t>(i - reach)]) / (2 * reach + 1);
    }
  }
  return x;
}

std::vector<double> differences(const std::vector<double>& x, double period_s) {
  std::vector<double> out(x.size(), 0.0);
  for (size_t i = 1; i + 1 < x.size(); ++i) out[i] = (x[i + 1] - x[i - 1]) / (2 * period_s);
  if (x.size() > 2) out.front() = out[1], out.back() = out[x.size() - 2];  // no kick at the ends
  return out;
}

// y(t) between samples of a uniform recording; the last good value holds over a gap.
std::vector<double> at_period(const recording::Recording& r, const std::vector<double>& y, double period_s) {
  const double length = r.time_s.back() - r.time_s.front();
  std::vector<double> out(static_cast<size_t>(length / period_s) + 1);
  double held = 0;
  for (size_t i = 0; i < out.size(); ++i) {
    const double at = static_cast<double>(i) * period_s / r.period_s;
    const size_t k = std::min(static_cast<size_t>(at), y.size() - 1);
    const size_t next = std::min(k + 1, y.size() - 1);
    const double value = y[k] + (at - static_cast<double>(k)) * (y[next] - y[k]);
    if (std::isfinite(value)) held = value;
    out[i] = held;
  }
  return out;
}

std::vector<double> skew_error_at(const simulation::RunSeries& series, const ForecastMove& move) {
  std::vector<double> out;
  for (double t : move.file_time_s) {
    const double at = (t - move.first_s) / series.period_s;
    const size_t k = std::min(static_cast<size_t>(std::max(0.0, std::round(at))), series.time_s.size() - 1);
    out.push_back(series.position_a_m[k] - series.position_b_m[k] -
                  (series.reference_a_m[k] - series.reference_b_m[k]));
  }
  return out;
}

struct Peaks {
  double skew_m = 0, mean_error_m = 0, force_part = 0, rms_force_part = 0, guide_moment_n_m = 0;
};

Peaks peaks_of(const simulation::RunSeries& s, const dynamics::Plant& plant, const machine::Settings& settings) {
  Peaks out{.skew_m = s.peak_skew_error_m};
  double skew = 0, squares_a = 0, squares_b = 0;
  for (size_t k = 0; k < s.time_s.size(); ++k) {
    const double error_a = s.position_a_m[k] - s.reference_a_m[k], error_b = s.position_b_m[k] - s.reference_b_m[k];
    out.mean_error_m = std::max(out.mean_error_m, std::abs(error_a + error_b) / 2);
    out.force_part = std::max({out.force_part, std::abs(s.force_a_n[k]) / settings.peak_force_a_n,
                               std::abs(s.force_b_n[k]) / settings.peak_force_b_n});
    squares_a += s.force_a_n[k] * s.force_a_n[k], squares_b += s.force_b_n[k] * s.force_b_n[k];
    skew = std::max(skew, std::abs(s.true_a_m[k] - s.true_b_m[k] - plant.stress_free_skew_m));
  }
  const double n = std::max<double>(1, static_cast<double>(s.time_s.size()));
  out.rms_force_part = std::max(std::sqrt(squares_a / n) / settings.peak_force_a_n,
                                std::sqrt(squares_b / n) / settings.peak_force_b_n);
  out.guide_moment_n_m = plant.yaw_stiffness_n_m_per_rad * skew / plant.span_m;
  return out;
}

simulation::Gantry gantry_of(const ForecastMove& move, dynamics::Plant plant, const ForecastOptions& options) {
  simulation::Gantry out;
  out.plant = at_case(std::move(plant), {move.carriage_y_m, move.payload_kg});
  out.effects.a.count_m = options.count_a_m;
  out.effects.b.count_m = options.count_b_m;
  return out;
}

// Of plants drawn from all that the fit doubts jointly.
std::vector<Peaks> drawn_peaks(const ForecastMove& move, const identification::Identified& id,
                               const servo::StructureSettings& settings, const ForecastOptions& options) {
  std::vector<Peaks> out;
  if (options.draws == 0) return out;
  const PlantDraws draws(id);
  math::Random random(options.seed);
  for (int k = 0; k < options.draws; ++k) {
    const dynamics::Plant plant = draws.draw(random);
    out.push_back(peaks_of(run_move(move, plant, settings, options), plant, settings.common));
  }
  return out;
}

// Largest |closed-loop response from a fight force to skew| of the plant as it is forecast, m/N.
double skew_compliance_m_per_n(const dynamics::Plant& plant, const machine::Settings& settings) {
  constexpr double kFrom_hz = 1, kStep = 1.05;
  const auto model = dynamics::response_model(plant, settings.period_s);
  const servo::LoopLaw law = servo::prepare(settings);
  double most = 0;
  for (double f = kFrom_hz; f < 0.2 / settings.period_s; f *= kStep) {
    const double w = 2 * std::numbers::pi * f;
    const dynamics::SideResponse r = dynamics::response(model, w);
    const servo::SideResponse c = servo::response(law, w);
    const math::Complex2x2 g{r.aa, r.ab, r.ba, r.bb}, one{1, 0, 0, 1};
    const math::Complex2x2 moves = math::inverse(one + g * math::Complex2x2{c.aa, c.ab, c.ba, c.bb}) * g;
    most = std::max(most, std::abs(moves.aa - moves.ab - moves.ba + moves.bb));
  }
  return most;
}

// What the fitted law leaves of the fight in the recordings (ripple, friction before it slides, pitch errors), as
// skew: twice the median recording's rms times the compliance.
double unexplained_skew_m(const ForecastMove& move, const identification::Identified& id,
                          const servo::StructureSettings& settings) {
  if (settings.structure != servo::Structure::mean_skew || id.motion.recordings.empty()) return 0;
  std::vector<double> left;
  for (const identification::RecordingUse& r : id.motion.recordings) left.push_back(r.residual_fight_n);
  std::nth_element(left.begin(), left.begin() + static_cast<std::ptrdiff_t>(left.size() / 2), left.end());
  const dynamics::Plant plant = at_case(id.plant, {move.carriage_y_m, move.payload_kg});
  return 2 * left[left.size() / 2] * skew_compliance_m_per_n(plant, settings.common);
}

// About the forecast itself, which is fixed: the mean square of n draws has n degrees of freedom. `left_out`: part of
// the value for what the plant does not hold; `unexplained`: the same in its unit.
Band band_of(const std::vector<Peaks>& drawn, double Peaks::*of, double value, double left_out, double counts,
             double unexplained = 0) {
  double squares = 0;
  for (const Peaks& p : drawn) squares += std::pow(p.*of - value, 2);
  const auto n = static_cast<double>(drawn.size());
  const double spread = n > 0 ? math::student_quantile(0.975, n) * std::sqrt(squares / n) : 0;
  const double half = std::hypot(spread, 1.96 * left_out * value, unexplained) + counts;
  return {std::max(0.0, value - half), value + half};
}

}  // namespace

ForecastMove move_of(const recording::Recording& r, const machine::Machine& machine, double period_s) {
  base::check(has_references(r) && r.time_s.size() > 2, "a forecast needs the recording's references");
  ForecastMove move{.name = r.name,
                    .carriage_y_m = r.carriage_y_m.value_or(machine.carriage_y_m.value_or(0)),
                    .payload_kg = r.payload_kg.value_or(0),
                    .first_s = r.time_s.front(),
                    .file_time_s = r.time_s};
  std::vector<double> mean(r.time_s.size());
  for (size_t i = 0; i < mean.size(); ++i) mean[i] = (r.reference_a_m[i] + r.reference_b_m[i]) / 2;
  const int width = static_cast<int>(std::max(kSmooth_s, 2 * r.period_s) / period_s);
  move.reference.mean_m = smoothed(at_period(r, mean, period_s), width);
  // Within a smoothing width of the end the digits are smoothed less; a file that ends in motion would end in a kick.
  if (move.reference.mean_m.size() > static_cast<size_t>(2 * width))
    move.reference.mean_m.resize(move.reference.mean_m.size() - static_cast<size_t>(width));
  move.reference.mean_m_per_s = differences(move.reference.mean_m, period_s);
  move.reference.mean_m_per_s2 = differences(move.reference.mean_m_per_s, period_s);
  return move;
}

ForecastMove move_of(const machine::PlannedMove& planned, const machine::Machine& machine, double period_s) {
  const trajectory::MoveLimits limits{planned.speed_m_per_s, planned.acceleration_m_per_s2, planned.jerk_m_per_s3};
  const auto there = trajectory::plan_move(0, planned.distance_m, limits);
  const auto back = trajectory::plan_move(planned.distance_m, -planned.distance_m, limits);
  return {.name = planned.name,
          .carriage_y_m = machine.carriage_y_m.value_or(0),
          .reference = simulation::track({there, back}, kRest_s, period_s)};
}

simulation::RunSeries run_move(const ForecastMove& move, dynamics::Plant plant,
                               const servo::StructureSettings& settings, const ForecastOptions& options,
                               const std::vector<double>& added_skew_n) {
  simulation::RunDescription d;
  d.gantry = gantry_of(move, std::move(plant), options);
  d.loops = settings;
  d.reference = move.reference;
  d.start_skew_m = d.gantry.plant.stress_free_skew_m;
  d.seed = options.seed;
  d.added_a_n = d.added_b_n = added_skew_n;
  for (double& f : d.added_b_n) f = -f;
  return simulation::run(d);
}

std::vector<double> peak_skews(const ForecastMove& move, const std::vector<dynamics::Plant>& plants,
                               const std::vector<machine::Settings>& settings, const ForecastOptions& options) {
  base::check(plants.size() == settings.size(), "settings for each plant", {double(plants.size())});
  std::vector<simulation::BatchMachine> machines;
  for (size_t k = 0; k < plants.size(); ++k)
    machines.push_back({.gantry = gantry_of(move, plants[k], options),
                        .loops = settings[k],
                        .start_skew_m = plants[k].stress_free_skew_m,
                        .seed = options.seed});
  std::vector<double> out;
  for (const simulation::BatchResult& r : simulation::run_batch(machines, move.reference, 1))
    out.push_back(r.peak_skew_error_m);
  return out;
}

MoveForecast forecast(const ForecastMove& move, const identification::Identified& id,
                      const machine::Settings& settings, const ForecastOptions& options) {
  return forecast(move, id, servo::StructureSettings{.common = settings}, options);
}

MoveForecast forecast(const ForecastMove& move, const identification::Identified& id,
                      const servo::StructureSettings& settings, const ForecastOptions& options) {
  base::check(id.plant_known, "a forecast needs a plant");
  const simulation::RunSeries nominal = run_move(move, id.plant, settings, options);
  const Peaks peaks = peaks_of(nominal, id.plant, settings.common);
  MoveForecast out{.name = move.name,
                   .peak_skew_m = peaks.skew_m,
                   .peak_mean_error_m = peaks.mean_error_m,
                   .peak_force_part = peaks.force_part,
                   .rms_force_part = peaks.rms_force_part,
                   .peak_guide_moment_n_m = peaks.guide_moment_n_m};
  out.settle = settling(nominal, options.settle_window_m), out.settle_window_m = options.settle_window_m;
  out.skew_error_m = skew_error_at(nominal, move);
  for (size_t k = 0; options.keep_run && k < nominal.time_s.size(); ++k)
    out.run_skew_error_m.push_back(nominal.position_a_m[k] - nominal.position_b_m[k] -
                                   (nominal.reference_a_m[k] - nominal.reference_b_m[k]));
  const std::vector<Peaks> drawn = drawn_peaks(move, id, settings, options);
  const double counts = options.count_a_m + options.count_b_m;
  const double unexplained = options.draws > 0 ? unexplained_skew_m(move, id, settings) : 0;
  const Band skew = band_of(drawn, &Peaks::skew_m, peaks.skew_m, kSkewLeftOut, counts, unexplained);
  out.lower_m = skew.lower, out.upper_m = skew.upper;
  out.mean_error_m = band_of(drawn, &Peaks::mean_error_m, peaks.mean_error_m, kErrorLeftOut, counts);
  out.force_part = band_of(drawn, &Peaks::force_part, peaks.force_part, kForceLeftOut, 0);
  const double moment_a_metre = id.plant.yaw_stiffness_n_m_per_rad / id.plant.span_m;
  out.guide_moment_n_m = band_of(drawn, &Peaks::guide_moment_n_m, peaks.guide_moment_n_m, kMomentLeftOut,
                                 moment_a_metre * counts, moment_a_metre * unexplained);
  // The run starts with free guides; a real bridge stands wherever friction holds it, and the loops hold that:
  // K_th/L^2 |s - s_free| <= (r_A + r_B)/2 of each side, the moment is L times that.
  const double held = id.plant.span_m * (id.plant.a.coulomb_n + id.plant.b.coulomb_n) / 2;
  out.guide_moment_n_m.lower = std::max(0.0, out.guide_moment_n_m.lower - held);
  out.guide_moment_n_m.upper += held;
  return out;
}

}  // namespace evenbeam::tuning
