#include "spread.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string>
#include <vector>

#include "../demo_job.h"
#include "../generated_job.h"
#include "base/side_by_side.h"
#include "limits/limits_station.h"
#include "math/random.h"
#include "protection/trips_station.h"
#include "tuning/joint_doubt.h"
#include "tuning/loops_station.h"

namespace evenbeam::checks {
namespace {

struct Spread {
  std::vector<double> all;
  void add(double x) { all.push_back(x); }
  double ratio() const {
    const auto [least, most] = std::minmax_element(all.begin(), all.end());
    return *most / *least;
  }
  double mean() const {
    double sum = 0;
    for (double x : all) sum += x;
    return sum / static_cast<double>(all.size());
  }
  // of the logarithms
  double sd() const {
    double sum = 0, squares = 0;
    for (double x : all) sum += std::log(x), squares += std::log(x) * std::log(x);
    const auto n = static_cast<double>(all.size());
    return std::sqrt(std::max(0.0, squares / n - sum * sum / (n * n)));
  }
};

struct Named {
  std::string name;
  Spread of;
};

// A fit drawn from the joint doubt as normal directions, brought to the edge of the 95 % ellipsoid where it is
// beyond.
identification::Identified drawn_fit(const identification::Identified& id, const tuning::JointDoubt& doubt,
                                     math::Random& random) {
  Eigen::VectorXd c(doubt.directions);
  for (double& x : c) x = random.normal();
  if (c.norm() > doubt.radius) c *= doubt.radius / c.norm();
  identification::Identified out = id;
  out.plant = tuning::plant_at(id.plant, doubt, c);
  return out;
}

struct Asked {
  std::string name;
  const machine::Machine& machine;
  const std::vector<recording::Recording>& recordings;
  bool with_trip = false;
};

double skew_trip_m(const Asked& of, const identification::Identified& id, const tuning::Proposal& p,
                   double allowable_m) {
  protection::TripsInput input{.plant = &id.plant,
                               .settings = p.settings,
                               .settings_name = "proposed",
                               .allowable_skew_m = allowable_m,
                               .moves = of.machine.moves,
                               .threads = 2};
  for (const recording::Recording& r : of.recordings) input.count_m = std::max(input.count_m, r.count_a_m);
  if (input.moves.empty())
    for (const recording::Recording& r : of.recordings)
      if (const auto move = protection::move_as_recorded(r)) input.moves.push_back(*move);
  return protection::trip_settings(of.machine, input).skew_trip_m;
}

std::optional<double> allowable_skew_m(const Asked& of) {
  const base::StationOutcome limits = limits::limits_station(of.machine, {});
  for (const auto& [key, value] : limits.result.values)
    if (key == "allowable_skew_m")
      if (const double* x = std::get_if<double>(&value.value)) return *x;
  return std::nullopt;
}

const recording::Recording* first_move(const std::vector<recording::Recording>& recordings) {
  for (const recording::Recording& r : recordings)
    if (tuning::is_test_move(r)) return &r;
  return nullptr;
}

std::string spread_of_one(const Asked& of, int draws) {
  const auto id = identification::identify(of.recordings, of.machine);
  const tuning::JointDoubt doubt = tuning::joint_doubt(id);
  const recording::Recording* r = first_move(of.recordings);
  if (!id.plant_known || r == nullptr) return fmt::format("{}: no plant or no move\n", of.name);
  const tuning::ForecastMove move = tuning::move_of(*r, of.machine, *of.machine.servo_period_s);
  const tuning::ForecastOptions options = tuning::forecast_options(r, of.machine);
  const auto allowable = of.with_trip ? allowable_skew_m(of) : std::nullopt;
  std::vector<Named> all;
  const auto add = [&](const std::string& name, double x) {
    for (Named& n : all)
      if (n.name == name) return n.of.add(x);
    all.push_back({name, {{x}}});
  };
  math::Random random(11);
  int none = 0;
  for (int k = 0; k <= draws; ++k) {
    const tuning::Proposal p = tuning::propose(k == 0 ? id : drawn_fit(id, doubt, random), of.machine);
    if (!p.found) {
      ++none;
      continue;
    }
    for (bool mean : {true, false}) {
      const machine::CoordinateLoop& c = mean ? p.settings.mean : p.settings.skew;
      const std::string name = mean ? "mean " : "skew ";
      add(name + "Kv", c.velocity_gain_n_s_per_m), add(name + "Ti", c.velocity_integral_s);
      add(name + "Kp", c.position_gain_per_s), add(name + "fv", c.velocity_filter_hz);
    }
    add("rms skew by the search's cost", std::exp(p.after.cost / 2));
    add("noise", p.after.noise_n);
    const machine::Settings here = tuning::at_place(p, p.settings, move.carriage_y_m);
    add("forecast skew", tuning::peak_skews(move, {id.plant}, {here}, options).front());
    double peak = 0;
    for (const tuning::Case& c : tuning::tuning_cases(of.machine, move.carriage_y_m))
      peak = std::max(peak, tuning::peak_sensitivity(tuning::at_case(id.plant, c),
                                                     tuning::at_place(p, p.settings, c.carriage_y_m))
                                .peak);
    add("peak sensitivity", peak);
    if (allowable) add("skew trip", skew_trip_m(of, id, p, *allowable));
  }
  std::string text = fmt::format("{}: {} fits, {} without settings\n", of.name, draws + 1, none);
  for (const Named& n : all)
    text += fmt::format("  {:30} as fitted {:10.4g}  mean {:10.4g}  spread {:5.1f} %  largest/smallest {:.2f}\n",
                        n.name, n.of.all.front(), n.of.mean(), 100 * n.of.sd(), n.of.ratio());
  return text;
}

}  // namespace

int spread(int draws, unsigned long from, unsigned long count) {
  if (count == 0) {
    const DemoJob job = demo_job();
    fmt::print("{}", spread_of_one({"demo", job.machine, job.recordings, draws >= 20}, draws));
    return 0;
  }
  for (unsigned long seed = from; seed < from + count; ++seed) {
    const auto job = generated_job(seed);
    fmt::print("{}", job ? spread_of_one({fmt::format("{}", seed), job->machine, job->recordings}, draws)
                         : fmt::format("{}: left out by the generator\n", seed));
    std::fflush(stdout);
  }
  return 0;
}

}  // namespace evenbeam::checks
