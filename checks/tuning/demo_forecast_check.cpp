// Forecasts of the demo machine's test moves under the loops they were made with, against what was recorded
// (demo/generator shares no code with the program), and the promise of the proposed settings checked a second way.
#include <doctest/doctest.h>

#include <cmath>

#include "../demo_job.h"
#include "simulation/linear_loop.h"
#include "tuning/loops_station.h"

namespace evenbeam::tuning {
namespace {

struct Asked {
  checks::DemoJob job = checks::demo_job();
  identification::Identified identified = identification::identify(job.recordings, job.machine);
  LoopsOutcome loops = loops_station(job.recordings, job.machine, identified);
};
const Asked& asked() {
  static const Asked once;
  return once;
}

}  // namespace

TEST_CASE("peak skew forecast within the larger of 15 % and three counts plus noise, shape correlation 0.9") {
  int judged = 0;
  for (const MoveForecast& f : asked().loops.own_loops) {
    for (const auto& r : asked().job.recordings) {
      if (r.name != f.name) continue;
      // A loop on the verge rings from anything: its phase, and so its shape, is nobody's to forecast.
      const dynamics::Plant plant =
          at_case(asked().identified.plant, {r.carriage_y_m.value_or(0), r.payload_kg.value_or(0)});
      if (!simulation::stability(plant, *r.loops).stable || peak_sensitivity(plant, *r.loops).peak > 4) continue;
      ++judged;
      double peak = 0, sx = 0, sy = 0, sxx = 0, syy = 0, sxy = 0;
      for (size_t i = 0; i < r.time_s.size(); ++i) {
        const double x = r.position_a_m[i] - r.position_b_m[i] - (r.reference_a_m[i] - r.reference_b_m[i]);
        const double y = f.skew_error_m[i];
        peak = std::max(peak, std::abs(x));
        sx += x, sy += y, sxx += x * x, syy += y * y, sxy += x * y;
      }
      const double n = static_cast<double>(r.time_s.size());
      const double correlation = (sxy - sx * sy / n) / std::sqrt((sxx - sx * sx / n) * (syy - sy * sy / n));
      CAPTURE(f.name);
      CAPTURE(peak);
      CAPTURE(f.peak_skew_m);
      CAPTURE(correlation);
      CHECK(std::abs(f.peak_skew_m - peak) < std::max(0.15 * peak, 3 * r.count_a_m));
      CHECK(correlation > 0.9);
    }
  }
  CHECK(judged >= 3);
}

TEST_CASE("proposed settings: stable with the promised sensitivity at places between those looked at") {
  const Proposal& p = asked().loops.proposal;
  REQUIRE(p.found);
  CHECK(std::max(p.worst.peak, p.measured.peak) <= 1.7);
  const auto range = machine::carriage_range(asked().job.machine);
  for (int i = 0; i <= 20; ++i) {
    const double y = range.min_y_m + i * (range.max_y_m - range.min_y_m) / 20;
    const dynamics::Plant plant = at_case(asked().identified.plant, {y, 0});
    CAPTURE(y);
    CHECK(simulation::stability(plant, p.settings).stable);
    CHECK(peak_sensitivity(plant, p.settings).peak < 1.7);
  }
}

TEST_CASE(
    "coupling matters: the carriage at its end changes the reported peak, and a gain far too high is unstable") {
  const Proposal& p = asked().loops.proposal;
  const auto range = machine::carriage_range(asked().job.machine);
  const double middle = peak_sensitivity(at_case(asked().identified.plant, {0, 0}), p.settings).peak;
  const double end = peak_sensitivity(at_case(asked().identified.plant, {range.max_y_m, 0}), p.settings).peak;
  CHECK(std::abs(end - middle) > 1e-3);
  machine::Settings wild = p.settings;
  wild.skew.velocity_gain_n_s_per_m *= 30;
  CHECK_FALSE(simulation::stability(asked().identified.plant, wild).stable);
}

TEST_CASE("no servo period: an honest no that names what is missing") {
  machine::Machine machine = asked().job.machine;
  machine.servo_period_s.reset();
  const Proposal p = propose(asked().identified, machine);
  CHECK_FALSE(p.found);
  CHECK(p.reason.find("servo_period") != std::string::npos);
}

}  // namespace evenbeam::tuning
