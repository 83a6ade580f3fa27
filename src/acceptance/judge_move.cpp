// One move judged: measures, ringing over its strokes, and its loops held against the textbook conditions.
#include <algorithm>
#include <cmath>

#include "acceptance/prove_station.h"

namespace evenbeam::acceptance {

namespace {

constexpr double least_stretch_s = 0.04;  // shorter cruises and rests tell nothing about ringing
constexpr double same_hz = 0.25;          // stretches agree where their frequencies differ by less than this part
constexpr double ringing_part = 0.05;     // amplitude of the move's peak error that counts

struct Coordinate {
  const char* name;
  const std::vector<double>& error_m;
  double peak_m;
};

struct Stretch {
  Oscillation oscillation;
  double from_s = 0, to_s = 0;
};

std::optional<MoveRinging> put_together(std::vector<Stretch> rung, int looked_at) {
  if (rung.empty()) return std::nullopt;
  std::sort(rung.begin(), rung.end(),
            [](const Stretch& a, const Stretch& b) { return a.oscillation.hz < b.oscillation.hz; });
  MoveRinging out;
  out.looked_at = looked_at;
  out.hz = rung[rung.size() / 2].oscillation.hz;
  for (const Stretch& s : rung) {
    if (std::abs(s.oscillation.hz - out.hz) > same_hz * out.hz) continue;
    ++out.agreeing;
    if (s.oscillation.amplitude_m <= out.strongest.amplitude_m) continue;
    out.strongest = s.oscillation;
    out.from_s = s.from_s;
    out.to_s = s.to_s;
  }
  if (2 * out.agreeing < looked_at) return std::nullopt;
  return out;
}

std::optional<MoveRinging> look_for_ringing(const recording::Recording& rec, const Phases& phases,
                                            const std::vector<double>& error, Phase phase, double noise_m) {
  std::vector<Stretch> rung;
  int looked_at = 0;
  for (const Stroke& s : phases.strokes) {
    const auto [from, to] =
        phase == Phase::rest ? std::pair{s.to, s.rest_to} : longest_run(phases, phase, s.from, s.to);
    if (double(to - from) * rec.period_s < least_stretch_s) continue;
    ++looked_at;
    const Oscillation o = strongest_oscillation(error, from, to, rec.period_s);
    if (rings(o, {.noise_m = noise_m})) rung.push_back({o, rec.time_s[from], rec.time_s[to - 1]});
  }
  return put_together(std::move(rung), looked_at);
}

void judge_loops(const recording::Recording& rec, const machine::Machine& machine, const ProveInput& input,
                 JudgedMove& out) {
  if (!rec.loops) return;
  std::optional<double> mass = machine::nameplate_mass_kg(machine, rec.payload_kg.value_or(0));
  if (input.moving_mass_kg) mass = input.moving_mass_kg->value;
  if (mass)
    out.mean_loop = judge_loop(rec.loops->mean, {*mass, input.viscous_n_s_per_m.value_or(0), 0}, rec.loops->period_s);
  if (!input.yaw_inertia_kg_m2) return;
  const double square = machine.span_m * machine.span_m;
  const auto over_square = [&](const std::optional<base::Estimate>& e) { return e ? e->value / square : 0.0; };
  out.skew_loop = judge_loop(rec.loops->skew,
                             {input.yaw_inertia_kg_m2->value / square, over_square(input.yaw_damping_n_m_s_per_rad),
                              over_square(input.yaw_stiffness_n_m_per_rad)},
                             rec.loops->period_s);
}

}  // namespace

SettleWindow settle_window(const machine::Machine& machine, double count_m) {
  if (machine.limits.settle_window_m) return {*machine.limits.settle_window_m, "machine description: settle window"};
  const double half = std::max(assumed_settle_window_m, 5 * count_m);
  return {half, "assumed half window, 10 um or five counts (common practice, no source); none is stated"};
}

bool is_move(const recording::Recording& rec) {
  using recording::RunKind;
  if (!recording::has_positions(rec) || !recording::has_references(rec) || rec.time_s.size() < 8) return false;
  if (rec.kind == RunKind::test_move || rec.kind == RunKind::slow_jog) return true;
  return rec.kind == RunKind::unknown && !find_phases(rec).strokes.empty();
}

JudgedMove judge_move(const recording::Recording& rec, const machine::Machine& machine, const ProveInput& input,
                      double settle_window_m) {
  JudgedMove out{.recording = &rec, .measures = measure(rec, machine, settle_window_m)};
  const MoveMeasures& m = out.measures;
  const Coordinate coordinates[] = {{"mean", m.errors.mean_m, m.mean.peak}, {"skew", m.errors.skew_m, m.skew.peak}};
  for (const Phase phase : {Phase::cruise, Phase::rest})
    for (const Coordinate& c : coordinates) {
      const double noise = std::max(3 * m.rms_doubt_m, ringing_part * c.peak_m);
      auto ringing = look_for_ringing(rec, m.phases, c.error_m, phase, noise);
      if (!ringing) continue;
      ringing->coordinate = c.name;
      ringing->phase = phase;
      out.ringing.push_back(*ringing);
    }
  judge_loops(rec, machine, input, out);
  for (const MoveForecast& forecast : input.forecasts)
    if (forecast.move == rec.name) out.forecast = &forecast;
  return out;
}

}  // namespace evenbeam::acceptance
