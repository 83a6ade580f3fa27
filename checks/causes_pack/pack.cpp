#include "pack.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "base/json.h"
#include "dynamics/motion.h"
#include "machine/machine_file.h"
#include "math/random.h"
#include "rehearsal/capture_file.h"

namespace evenbeam::checks {
namespace {

using rehearsal::SimulatedCapture;
using rehearsal::Take;

// Papers of an invented machine: small and fast to large and slow.
std::string papers(math::Random& r) {
  const double size = r.uniform(), span = 0.6 + 2.4 * size, bridge = 15 * std::pow(20, size) * r.uniform(0.8, 1.25);
  const double carriage = bridge * r.uniform(0.15, 0.45), mass = 1.4 * bridge + carriage, accel = 8 - 6 * size;
  const double speed = r.uniform(0.3, 1.2), way = 0.25 * span + 0.15, half = 0.35 * span;
  const double count = r.uniform() < 0.5 ? 1e-6 : 0.5e-6;
  return fmt::format(
      "format = \"evenbeam.machine/1\"\nname = \"invented\"\nspan = \"{:.3f} m\"\n[bridge]\nmass = \"{:.2f} kg\"\n"
      "end_mass = \"{:.2f} kg\"\n[carriage]\nmass = \"{:.2f} kg\"\nmin_y = \"{:.3f} m\"\nmax_y = \"{:.3f} m\"\n"
      "stands_at_y = \"{:.3f} m\"\n[side]\ndrive = \"screw\"\nlead = \"20 mm\"\ndrive_inertia = \"{:.6g} kg*m^2\"\n"
      "peak_force = \"{:.1f} N\"\ncount = \"{:.1f} um\"\n[guides]\nends = \"bolted\"\nstated_skew_limit = \"2 mm\"\n"
      "[controller]\nservo_period = \"500 us\"\ndelay_samples = 1\n[[move]]\nname = \"own\"\ndistance = \"{:.3f} "
      "m\"\n"
      "speed = \"{:.3f} m/s\"\nacceleration = \"{:.2f} m/s^2\"\njerk = \"{:.1f} m/s^3\"\n",
      span, bridge, 0.2 * bridge, carriage, -half, half, r.uniform(-0.8, 0.8) * half, 1e-5 * mass * 0.1,
      mass * accel * r.uniform(0.9, 1.4), 1e6 * count, way, speed, 0.6 * accel, 20 * accel);
}

// What the papers do not say, each side a little different, as on every healthy machine.
void make_real(rehearsal::VirtualMachine& v, const machine::Machine& machine, math::Random& r) {
  dynamics::Plant& p = v.gantry.plant;
  p.yaw_stiffness_n_m_per_rad *= std::pow(r.uniform(0.6, 1.8), 2);
  p.yaw_damping_n_m_s_per_rad *= r.uniform(0.6, 2);
  const double friction = r.uniform(0.015, 0.05) * (machine.a.peak_force_n.value_or(1000));
  const double speed = machine.moves.front().speed_m_per_s;
  for (dynamics::PlantSide* side : {&p.a, &p.b}) {
    side->coulomb_n = friction * r.uniform(0.93, 1.07);
    side->viscous_n_s_per_m = 0.4 * friction / speed * r.uniform(0.93, 1.07);
    side->drive_stiffness_n_per_m = std::max(side->motor_mass_kg, 0.02 * p.fixed_mass_kg) *
                                    std::pow(2 * std::numbers::pi * 120, 2) * r.uniform(0.97, 1.03);
    side->drive_damping_n_s_per_m = 0.06 * std::sqrt(side->drive_stiffness_n_per_m * side->motor_mass_kg);
    side->force_scale *= r.uniform(0.997, 1.003);
  }
  p.stress_free_skew_m = r.uniform(-60e-6, 60e-6);
  v.loops = rehearsal::soft_loops(p, *machine.servo_period_s, *machine.a.peak_force_n, *machine.b.peak_force_n);
}

std::string plans(const std::vector<SimulatedCapture>& captures, const machine::Settings& soft) {
  std::string text = "format = \"evenbeam.recordings/1\"\n" + rehearsal::loops_text("soft", soft);
  for (const SimulatedCapture& c : captures) text += rehearsal::entry_text(c);
  // Nobody knows beforehand whether the sides are sampled together.
  const std::string stated = "b_late = \"0 s\"\n";
  for (std::size_t at; (at = text.find(stated)) != std::string::npos;) text.erase(at, stated.size());
  return text;
}

constexpr std::array kTakes{Take::standstill, Take::push, Take::multisine, Take::jog,
                            Take::search,     Take::move, Take::skew_step, Take::enabling};

// Captures of the takes in which one of the defects holds, with them and without. The others are the same without.
Trace trace_against_twin(const rehearsal::CaptureInput& in, const std::vector<SimulatedCapture>& captures,
                         const std::vector<Take>& take_of_capture, const Measure& measure) {
  rehearsal::CaptureInput healthy_in = in;
  healthy_in.defects.clear();
  healthy_in.machine.broken.clear();
  std::vector<SimulatedCapture> broken, healthy;
  for (const Take take : kTakes) {
    const auto holds = [&](const rehearsal::Defects& d) { return rehearsal::holds_in(d, {.run = to_text(take)}); };
    if (std::none_of(in.defects.begin(), in.defects.end(), holds)) continue;
    for (std::size_t k = 0; k < captures.size(); ++k)
      if (take_of_capture[k] == take) broken.push_back(captures[k]);
    for (SimulatedCapture& made : rehearsal::make_captures(healthy_in, take)) healthy.push_back(std::move(made));
  }
  return trace_of(broken, healthy, measure);
}

}  // namespace

Case case_of(std::uint64_t seed, bool two) {
  Case out{.seed = seed};
  if (seed % 5 == 0) return out;
  math::Random r(seed * 77 + 5);
  const std::uint64_t sick = seed - seed / 5 - 1;  // counted without the healthy ones
  out.defects.push_back({&bank()[sick % bank().size()], r.uniform()});
  if (two) out.defects.push_back({&bank()[(sick * 7 + 3) % bank().size()], r.uniform()});
  return out;
}

Written write_case(base::Disk& disk, const std::string& folder, const Case& c, bool traced) {
  math::Random r(c.seed);
  const std::string text = papers(r) + c.papers;
  const machine::Machine machine = machine::read_machine(text, "machine.toml");
  rehearsal::VirtualMachine v = rehearsal::virtual_machine(machine);
  make_real(v, machine, r);
  const machine::PlannedMove& move = machine.moves.front();
  const Scale scale{.coulomb_n = (v.gantry.plant.a.coulomb_n + v.gantry.plant.b.coulomb_n) / 2,
                    .peak_force_n = *machine.a.peak_force_n,
                    .spring_n_per_m = v.gantry.plant.yaw_stiffness_n_m_per_rad / std::pow(machine.span_m, 2),
                    .count_m = *machine.a.count_m,
                    .way_m = move.distance_m,
                    .speed_m_per_s = move.speed_m_per_s};
  rehearsal::CaptureInput in{
      .machine = v,
      .move = {move.distance_m, move.speed_m_per_s, move.acceleration_m_per_s2, move.jerk_m_per_s3},
      .seed = c.seed,
      .multisine_repeats = 4,
      .multisine_draws = 2,
      .jog_way_m = 1.2 * move.distance_m};
  base::Json truth = base::Json::array();
  for (const Seeded& s : c.defects) {
    in.defects.push_back(
        rehearsal::read_defects("format = \"evenbeam.defects/1\"\n" + s.defect->toml(scale, s.size), s.defect->name));
    truth.push_back({{"name", s.defect->name},
                     {"row", s.defect->row},
                     {"size", s.size},
                     {"toml", s.defect->toml(scale, s.size)}});
  }
  if (!c.broken.empty())
    in.defects.push_back(rehearsal::read_defects("format = \"evenbeam.defects/1\"\n" + c.broken, "sheet"));
  in.machine.broken = in.defects;
  std::vector<SimulatedCapture> captures;
  std::vector<Take> take_of_capture;
  for (const Take take : kTakes)
    for (SimulatedCapture& made : rehearsal::make_captures(in, take)) {
      captures.push_back(std::move(made));
      take_of_capture.push_back(take);
    }
  const std::string job = base::join_path(folder, "job"), recordings = base::join_path(job, "recordings");
  disk.make_folder(recordings);
  for (const SimulatedCapture& made : captures)
    disk.write(base::join_path(recordings, made.file), rehearsal::capture_text(made, v, rehearsal::FileForm::comma));
  disk.write(base::join_path(job, "recordings.toml"), plans(captures, v.loops));
  disk.write(base::join_path(job, "machine.toml"), text);
  if (!c.ready.empty()) disk.write(base::join_path(job, "ready.toml"), c.ready);
  if (!c.square.empty()) disk.write(base::join_path(job, "squareness.toml"), c.square);
  disk.write(base::join_path(folder, "truth.json"),
             base::to_text(base::Json{{"format", "evenbeam.pack/1"}, {"seed", c.seed}, {"defects", truth}}) + "\n");
  Written out{.plant = v.gantry.plant,
              .measure = {.count_m = scale.count_m,
                          .coulomb_n = scale.coulomb_n,
                          .allowed_skew_m = machine.guides.stated_skew_limit_m.value_or(2e-3)}};
  if (traced && !c.defects.empty()) out.trace = trace_against_twin(in, captures, take_of_capture, out.measure);
  return out;
}

}  // namespace evenbeam::checks
