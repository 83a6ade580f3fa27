#include "rehearsal/capture_runs.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace evenbeam::rehearsal {

using recording::RunKind;
using simulation::RunDescription;

namespace {

constexpr double slow_rate_hz = 500, fast_rate_hz = 5000;  // rows a second: searches; all else at most

}  // namespace

double period_of(const CaptureInput& in) { return in.machine.loops.period_s; }
std::size_t periods(const CaptureInput& in, double time_s) {
  return static_cast<std::size_t>(std::llround(time_s / period_of(in)));
}

simulation::Gantry gantry_of(const CaptureInput& in) {
  simulation::Gantry g = in.machine.gantry;
  for (auto* side : {&g.effects.a, &g.effects.b}) {
    if (!(side->count_m > 0)) side->count_m = 1e-7;  // finer than any limit here; a scale of no stated count
    side->noise_m = 0.2 * side->count_m;
  }
  return g;
}

// Largest departure from the stress-free skew that friction may hold on a bridge left standing.
double held_skew_m(const dynamics::Plant& p) {
  if (!(p.yaw_stiffness_n_m_per_rad > 0)) return 1e-4;  // free yaw: any attitude; a modest one
  return std::min(p.a.coulomb_n, p.b.coulomb_n) * p.span_m * p.span_m / p.yaw_stiffness_n_m_per_rad;
}

SimulatedCapture begin(const CaptureInput& in, std::string file, RunKind kind, std::string what) {
  SimulatedCapture c{.file = std::move(file), .what = std::move(what), .kind = kind, .switch_on = "main"};
  const dynamics::Plant& p = in.machine.gantry.plant;
  c.carriage_y_m = p.carriage_y_m, c.payload_kg = p.payload_kg;
  const double rate = kind == RunKind::search ? slow_rate_hz : fast_rate_hz;
  c.every = std::max(1, static_cast<int>(std::llround(1 / (rate * period_of(in)))));
  const double rack = main_rack_m(in);
  c.zero_a_m = rack / 2, c.zero_b_m = -rack / 2;
  return c;
}

RunDescription closed(const CaptureInput& in, SimulatedCapture& c, const machine::Settings& loops, const char* name,
                      std::uint64_t number) {
  c.loops = name;
  RunDescription d;
  d.gantry = gantry_of(in);
  d.gantry.plant.carriage_y_m = c.carriage_y_m, d.gantry.plant.payload_kg = c.payload_kg;
  d.loops.common = loops;
  d.start_skew_m = main_rack_m(in);
  d.seed = in.seed * 1000 + number;
  return d;
}

// From rest to `speed` within `ramp_s`, then on for `length_s`.
std::vector<double> creep(const CaptureInput& in, double speed_m_per_s, double ramp_s, double length_s) {
  std::vector<double> out;
  double place = 0;
  for (double t = 0; t < ramp_s + length_s; t += period_of(in)) {
    out.push_back(place);
    place += period_of(in) * speed_m_per_s * std::min(1.0, t / ramp_s);
  }
  return out;
}

simulation::RunSeries run_broken(const CaptureInput& in, Take take, RunDescription run) {
  return simulation::run(with_defects(std::move(run), in.defects, {to_text(take), in.clock_s}));
}

Target broken_in(const CaptureInput& in, Take take) {
  return broken(gantry_of(in), in.defects, {to_text(take), in.clock_s});
}

TrueMarks marks_of(const CaptureInput& in) {
  Draw draw(in.seed, 1);
  TrueMarks marks{.a_m = draw.between(0.03, 0.05)};
  marks.b_m = marks.a_m + draw.between(-2e-3, 2e-3);
  return marks;
}

double main_rack_m(const CaptureInput& in) {
  Draw draw(in.seed, 2);
  const dynamics::Plant& p = in.machine.gantry.plant;
  return p.stress_free_skew_m +
         draw.between(-0.6, 0.6) * held_skew_m(p) * broken(gantry_of(in), in.defects, {}).rack_factor;
}

}  // namespace evenbeam::rehearsal
