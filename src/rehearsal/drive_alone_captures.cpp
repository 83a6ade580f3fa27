// One drive alone, before the bridge is connected: motor and drive with their own mass, half of the side's friction
// (the other half taken as the guides' under the bridge; common practice, no source). The pair of free masses is a
// plant without yaw stiffness whose masses stand at the rails: x_A and x_B do not couple.
#include <fmt/format.h>

#include <algorithm>
#include <numbers>

#include "rehearsal/capture_runs.h"

namespace evenbeam::rehearsal {
namespace {

constexpr double part_of_moving_mass = 0.05;  // of a drive whose papers give none (common practice, no source)

dynamics::Plant two_drives(const dynamics::Plant& whole) {
  dynamics::Plant p{.span_m = whole.span_m, .a = whole.a, .b = whole.b};
  const double otherwise = part_of_moving_mass * dynamics::total_mass_kg(whole), half = whole.span_m / 2;
  double masses[2];
  for (int i = 0; i < 2; ++i) {
    dynamics::PlantSide& side = i == 0 ? p.a : p.b;
    masses[i] = side.motor_mass_kg > 0 ? side.motor_mass_kg : otherwise;
    side.motor_mass_kg = side.drive_stiffness_n_per_m = side.drive_damping_n_s_per_m = 0;
    side.coulomb_n /= 2, side.viscous_n_s_per_m /= 2;
  }
  p.fixed_mass_kg = masses[0] + masses[1];
  p.fixed_moment_kg_m = (masses[1] - masses[0]) * half;
  p.fixed_inertia_kg_m2 = p.fixed_mass_kg * half * half;
  p.delay_s = whole.delay_s, p.current_lag_s = whole.current_lag_s;
  return p;
}

// A loop of 8 Hz on the drive's own mass (common practice, no source).
machine::CoordinateLoop loop_of(double mass_kg) {
  const double rate = 2 * std::numbers::pi * 8;
  return {rate / 3, mass_kg * rate, 0.25, 0, {}};
}

// At rest, then three speeds each way, the fastest as hard as 30 % of peak force or the machine's own move allows.
std::vector<trajectory::Move> there_and_back(const TiedMove& own, double most_m_per_s2) {
  std::vector<trajectory::Move> moves{trajectory::plan_move(0, 0, {1, 1, 1})};
  for (const double speed : {0.02, 0.1, 0.3}) {
    const double top = std::min(speed, own.speed_m_per_s), most = std::min(20 * top, most_m_per_s2);
    moves.push_back(trajectory::plan_move(0, 0.06, {top, most, 40 * most}));
    moves.push_back(trajectory::plan_move(0.06, -0.06, {top, most, 40 * most}));
  }
  return moves;
}

}  // namespace

SimulatedCapture drive_alone_capture(const CaptureInput& in, bool on_b) {
  SimulatedCapture c =
      begin(in, on_b ? "00-drive-b-alone.csv" : "00-drive-a-alone.csv", recording::RunKind::one_side, "");
  c.switch_on = on_b ? "drive b alone" : "drive a alone";
  c.has_a = !on_b, c.has_b = on_b, c.zero_a_m = c.zero_b_m = 0;
  const dynamics::Plant drives = two_drives(in.machine.gantry.plant);
  const double half = drives.fixed_mass_kg / 2, apart = drives.fixed_moment_kg_m / drives.span_m;
  const double mass = on_b ? half + apart : half - apart;
  c.what = fmt::format(
      "bridge not connected; {:.4g} kg on the drive, half of the side's friction; own loop, three speeds", mass);
  simulation::RunDescription d;
  d.gantry = gantry_of(in);
  d.gantry.plant = drives;
  d.loops.structure = servo::Structure::independent;
  d.loops.common.period_s = period_of(in);
  d.loops.common.peak_force_a_n = in.machine.loops.peak_force_a_n;
  d.loops.common.peak_force_b_n = in.machine.loops.peak_force_b_n;
  (on_b ? d.loops.side_b : d.loops.side_a) = loop_of(mass);
  d.seed = in.seed * 1000 + (on_b ? 10 : 9);
  const double peak = on_b ? in.machine.loops.peak_force_b_n : in.machine.loops.peak_force_a_n;
  const simulation::ReferenceTrack own =
      simulation::track(there_and_back(in.move, 0.3 * peak / mass), 0.3, period_of(in));
  d.reference.mean_m = d.reference.skew_m = own.mean_m;  // the other side's reference stands
  for (double& x : d.reference.mean_m) x /= 2;
  if (on_b)
    for (double& x : d.reference.skew_m) x = -x;
  c.series = run_broken(in, Take::one_side, d);
  return c;
}

}  // namespace evenbeam::rehearsal
