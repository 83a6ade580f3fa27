#include "machines.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "random.h"

namespace generator {
namespace {

constexpr double pi = std::numbers::pi;

// Two places, as catalogues round.
double significant(double x) {
  const double scale = std::pow(10, std::floor(std::log10(x)) - 1);
  return std::round(x / scale) * scale;
}

// Damping that gives a mode of this stiffness and mass the wanted ratio.
double damping_for(double ratio, double stiffness, double mass) { return 2 * ratio * std::sqrt(stiffness * mass); }

// Drive spring for a wanted resonance of the motor against the side's part of the bridge.
void set_drive(TrueSide& side, double hz, double load_kg, double ratio) {
  const double reduced = side.motor_mass_kg * load_kg / (side.motor_mass_kg + load_kg);
  side.drive_stiffness_n_per_m = std::pow(2 * pi * hz, 2) * reduced;
  side.drive_damping_n_s_per_m = damping_for(ratio, side.drive_stiffness_n_per_m, reduced);
}

// Guides' yaw stiffness for a wanted yaw frequency on rigid drives, carriage where it stands.
void set_yaw(TrueGantry& g, double hz, double ratio) {
  const RigidSums sums = rigid_sums(g);
  const double inertia = sums.inertia_kg_m2 - sums.moment_kg_m * sums.moment_kg_m / sums.mass_kg;
  g.yaw_stiffness_n_m_per_rad = std::pow(2 * pi * hz, 2) * inertia;
  g.yaw_damping_n_m_s_per_rad = damping_for(ratio, g.yaw_stiffness_n_m_per_rad, inertia);
}

// Bending spring for a wanted first bending of the bridge taken off its drives.
void set_bending(TrueGantry& g, double hz, double ratio) {
  double low = 1, high = 1e12;
  for (int i = 0; i < 100; ++i) {
    g.bending_stiffness_n_per_m = std::sqrt(low * high);
    (bending_hz(g) < hz ? low : high) = g.bending_stiffness_n_per_m;
  }
  g.bending_damping_n_s_per_m = damping_for(ratio, g.bending_stiffness_n_per_m, g.bridge_mass_kg / 2);
}

TrueGantry harbour_cutter_truth() {
  TrueGantry g;
  g.span_m = 1.6;
  g.bridge_mass_kg = 91.5;
  g.bridge_centre_y_m = -0.012;
  g.end_mass_a_kg = 15.1;
  g.end_mass_b_kg = 13.6;
  g.carriage_mass_kg = 32.2;
  g.carriage_y_m = 0.25;
  g.carriage_ahead_m = 0.06;
  g.stress_free_skew_m = 0.000180;
  g.current_lag_s = 0.00035;
  g.a.motor_mass_kg = 21.4;
  g.b.motor_mass_kg = 21.9;
  g.a.coulomb_n = 64, g.a.breakaway_n = 72, g.a.viscous_n_s_per_m = 52;
  g.b.coulomb_n = 43, g.b.breakaway_n = 48, g.b.viscous_n_s_per_m = 44;
  g.a.bristle_travel_m = 6e-6, g.b.bristle_travel_m = 8e-6;
  g.a.force_scale = 1.0;
  g.b.force_scale = 0.96;
  g.a.ripple_n = 2.5, g.a.ripple_phase_rad = 0.7;
  g.b.ripple_n = 2.0, g.b.ripple_phase_rad = 2.1;
  g.a.mark_m = 0.1023;
  g.b.mark_m = 0.1000;
  set_drive(g.a, 118, 76, 0.03);
  set_drive(g.b, 112, 76, 0.03);
  set_yaw(g, 23, 0.025);
  set_bending(g, 86, 0.008);
  return g;
}

Papers harbour_cutter_papers() {
  Papers p;
  p.name = "Harbour cutter";
  p.remarks = {
      "Harbour cutter: an invented gantry that cuts sailcloth. What its papers say; the real machine differs."};
  p.span_m = 1.6;
  p.bridge_mass_kg = 88;
  p.end_mass_kg = 14;
  p.carriage_mass_kg = 31;
  p.carriage_min_y_m = -0.6, p.carriage_max_y_m = 0.6;
  p.payload_max_kg = 8;
  p.drive = "rack";
  p.lead_m = 0.1;
  p.drive_mass_kg = 22;
  p.peak_n = 1100;
  p.travel_m = 1.0;
  p.speed_m_per_s = 1.0, p.acceleration_m_per_s2 = 5, p.jerk_m_per_s3 = 100;
  p.stated_skew_limit_m = 0.0015;
  p.guide_spacing_m = 0.22;
  p.guide_static_rating_n = 27000;
  return p;
}

// Masses, geometry and where things stand.
void draw_bodies(TrueGantry& g, Random& r, double motor_part) {
  g.span_m = r.log_between(0.6, 4);
  const double total = std::clamp(150 * std::pow(g.span_m, 1.3) * r.log_between(0.4, 2.5), 60.0, 3000.0);
  const double moved = total * (1 - motor_part);
  g.carriage_mass_kg = moved * r.between(0.12, 0.32);
  const double ends = moved * r.between(0.12, 0.28);
  g.end_mass_a_kg = ends / 2 * r.between(0.9, 1.1);
  g.end_mass_b_kg = ends / 2 * r.between(0.9, 1.1);
  g.bridge_mass_kg = moved - g.carriage_mass_kg - ends;
  g.bridge_centre_y_m = g.span_m * r.between(-0.03, 0.03);
  g.carriage_y_m = g.span_m * r.between(-0.25, 0.25);
  g.carriage_ahead_m = g.span_m * r.between(-0.06, 0.06);
  const double motors = total * motor_part;
  g.a.motor_mass_kg = motors / 2 * r.between(0.97, 1.03);
  g.b.motor_mass_kg = motors / 2 * r.between(0.97, 1.03);
}

void draw_springs(TrueGantry& g, Random& r, bool linear_motor) {
  const double yaw = r.log_between(8, 80);
  const double drive = linear_motor ? r.between(400, 600) : std::max(r.log_between(30, 200), 1.7 * yaw);
  const double load = (rigid_sums(g).mass_kg - g.a.motor_mass_kg - g.b.motor_mass_kg) / 2;
  set_drive(g.a, drive * r.between(0.96, 1.04), load, r.between(0.02, 0.05));
  set_drive(g.b, drive * r.between(0.96, 1.04), load, r.between(0.02, 0.05));
  set_yaw(g, yaw, r.between(0.01, 0.05));
  set_bending(g, std::clamp(yaw * r.between(1.6, 4), 45.0, 260.0), r.between(0.005, 0.02));
}

void draw_friction(TrueGantry& g, Random& r, double peak_n) {
  const double level = r.log_between(0.01, 0.08) * peak_n;
  for (TrueSide* side : {&g.a, &g.b}) {
    side->coulomb_n = level * r.between(0.75, 1.25);
    side->breakaway_n = side->coulomb_n * r.between(1.02, 1.25);
    side->bristle_travel_m = r.log_between(2e-6, 20e-6);
    side->stribeck_speed_m_per_s = r.between(0.002, 0.006);
    side->viscous_n_s_per_m = level * r.between(0.1, 1.0);
    side->ripple_n = peak_n * r.between(0, 0.003);
    side->ripple_pitch_m = r.between(0.004, 0.03);
    side->ripple_phase_rad = r.between(0, 2 * pi);
  }
  (r.chance(0.5) ? g.a : g.b).force_scale = r.between(0.95, 1.05);
}

Papers draw_papers(const TrueGantry& g, Random& r, double peak_n, const std::string& drive) {
  Papers p;
  p.span_m = g.span_m;
  p.bridge_mass_kg = g.bridge_mass_kg * r.between(0.95, 1.05);
  p.end_mass_kg = (g.end_mass_a_kg + g.end_mass_b_kg) / 2 * r.between(0.95, 1.05);
  p.carriage_mass_kg = g.carriage_mass_kg * r.between(0.97, 1.03);
  p.carriage_max_y_m = g.span_m * 0.38;
  p.carriage_min_y_m = -p.carriage_max_y_m;
  p.payload_max_kg = g.carriage_mass_kg * 0.3;
  p.drive = drive;
  if (drive == "screw") p.lead_m = r.one_of({0.005, 0.01, 0.02, 0.04});
  if (drive == "rack" || drive == "belt") p.lead_m = r.between(0.08, 0.25);
  p.drive_mass_kg = (g.a.motor_mass_kg + g.b.motor_mass_kg) / 2 * r.between(0.97, 1.03);
  p.peak_n = peak_n;
  p.speed_m_per_s = r.log_between(0.3, 1.8);
  p.stated_skew_limit_m = 0.002 * g.span_m;
  p.guide_spacing_m = significant(0.08 + 0.08 * g.span_m);
  p.guide_static_rating_n = significant(4 * 9.81 * rigid_sums(g).mass_kg + 8000);
  return p;
}

// Pushes, injection and moves sized to the machine's friction, mass and force.
void draw_runs(Campaign& c, Random& r) {
  const TrueGantry& g = c.truth;
  const double peak = c.papers.peak_n, mass = rigid_sums(g).mass_kg;
  const double friction = g.a.breakaway_n + g.b.breakaway_n;
  c.push_n = std::min(0.5 * peak, 1.4 * friction + 0.02 * peak);
  c.injection.rms_n = 0.06 * peak + 0.3 * friction / 2;
  c.injection.highest_hz = std::min(500.0, 0.35 / c.soft.period_s);
  c.injection_speed_m_per_s = r.between(0.03, 0.06);
  Papers& p = c.papers;
  p.acceleration_m_per_s2 = r.between(0.25, 0.5) * (2 * peak - friction) / mass;
  p.jerk_m_per_s3 = p.acceleration_m_per_s2 * r.between(10, 40);
  c.move_limits = {p.speed_m_per_s, p.acceleration_m_per_s2, p.jerk_m_per_s3};
  const double ramp = p.speed_m_per_s * p.speed_m_per_s / p.acceleration_m_per_s2;
  c.move_m = std::round((1.3 * ramp + 0.35 * p.speed_m_per_s) * 100) / 100;
  c.papers.travel_m = std::ceil((c.move_m + 0.6) * 10) / 10;
  c.move_start_m = 0.05;
  const double per_metre = g.yaw_stiffness_n_m_per_rad / (g.span_m * g.span_m);
  const double widest = std::min(1e-3, 0.12 * peak / per_metre);
  for (double part : {-1.0, 0.6, -0.3, 0.9, 0.1}) {
    const double skew = g.stress_free_skew_m + widest * part, place = r.between(-0.015, 0.015);
    c.search_starts.push_back({place + skew / 2, place - skew / 2});
  }
  const double rest = g.stress_free_skew_m + r.between(-0.9, 0.9) * (g.a.coulomb_n + g.b.coulomb_n) / 2 / per_metre;
  c.switch_on = {rest / 2, -rest / 2};
}

// The widest loops that still damp, then softer ones for injection and search, and a set that rings.
bool find_loops(Campaign& c, double period_s) {
  const auto at = [&](double scale) { return simple_loops(c, 4.0 * scale, 6.0 * scale, period_s); };
  const auto decay = [&](const LoopSettings& l) { return ringing_decay_per_s(c.truth, c.sensing, l); };
  double scale = 5;
  const double own = std::max(0.5, 0.7 * decay(at(0.02)));
  while (scale > 0.04 && decay(at(scale)) < std::min(own, 8.0)) scale *= 0.75;
  if (scale <= 0.04) return false;
  c.better = at(0.6 * scale);
  c.soft = at(std::min(1.0, 0.3 * scale));
  c.better.mass_ff_kg =
      c.papers.bridge_mass_kg + c.papers.carriage_mass_kg + 2 * c.papers.end_mass_kg + 2 * c.papers.drive_mass_kg;
  double low = 1, high = 40;  // factor on the skew's velocity gain: rings, but dies
  for (int i = 0; i < 7; ++i) {
    c.ringing = c.better;
    const double middle = std::sqrt(low * high);
    c.ringing.skew.velocity_gain_n_s_per_m *= middle;
    (decay(c.ringing) > 3 ? low : high) = middle;
  }
  c.ringing = c.better;
  c.ringing.skew.velocity_gain_n_s_per_m *= low;
  return true;
}

// Machine, papers and sensing; loops and runs come after.
Campaign drawn(std::uint64_t seed, Random& r) {
  Campaign c;
  const std::string drive = r.one_of({"screw", "rack", "belt", "linear_motor"});
  const double most = drive == "linear_motor" ? 0.15 : drive == "screw" ? 0.5 : 0.35;
  draw_bodies(c.truth, r, r.between(most == 0.15 ? 0.06 : 0.15, most));
  draw_springs(c.truth, r, drive == "linear_motor");
  const double peak = significant(rigid_sums(c.truth).mass_kg * r.log_between(5, 25) / 2);
  draw_friction(c.truth, r, peak);
  c.truth.current_lag_s = r.between(0.1e-3, 0.5e-3);
  c.truth.stress_free_skew_m = r.between(-3e-4, 3e-4);
  c.truth.a.mark_m = 0.085;
  c.truth.b.mark_m = 0.085 + r.between(-3e-3, 3e-3);
  c.papers = draw_papers(c.truth, r, peak, drive);
  c.papers.name = "Random machine " + std::to_string(seed);
  c.payload_max_kg = c.papers.payload_max_kg;
  c.seed = seed;
  c.sensing.count_m = r.one_of({5e-8, 1e-7, 5e-7, 1e-6, 5e-6, 1e-5});
  c.sensing.mark_jitter_m = std::max(c.sensing.count_m, 5e-7);
  return c;
}

}  // namespace

Campaign harbour_cutter() {
  Campaign c;
  c.truth = harbour_cutter_truth();
  c.papers = harbour_cutter_papers();
  c.sensing = {1e-6, 0.2, 1e-6, false};
  c.payload_max_kg = c.papers.payload_max_kg;
  c.seed = 20;
  c.move_limits = {0.9, 4, 80};
  c.move_m = 0.6;
  c.move_start_m = 0.12;
  c.switch_on = {0.000140, 0.0};
  LoopSettings s;
  s.period_s = 0.0005;
  s.peak_a_n = s.peak_b_n = 1100;
  s.mean = {8, 4500, 0.25, 300, {}};
  s.skew = {10, 900, 0.25, 300, {}};
  c.soft = s;
  s.mean = {20, 9000, 0.08, 300, {}};
  s.skew = {30, 2250, 0.08, 300, {}};
  s.mass_ff_kg = 195;
  c.better = c.ringing = s;
  c.ringing.mean = {25, 6000, 0.08, 300, {}};
  // Integral 20 times too short and position gain too high: rings near the yaw mode and grows while the bridge
  // slides.
  c.ringing.skew = {120, 1200, 0.004, 300, {}};
  c.push_n = 198;
  c.push_s = 0.05;
  c.injection = {75, 1.5, 400, 2, 4};
  c.injection_speed_m_per_s = 0.05;
  c.search_s = 6;
  for (const Ends& place :
       {Ends{-0.0068, -0.0072}, {0.00055, 0.00030}, {0.0040, 0.0042}, {-0.00245, -0.00275}, {0.00902, 0.00894}})
    c.search_starts.push_back(place);
  c.varied_forms = true;
  c.push_every = 1, c.injection_every = 1, c.move_every = 2, c.search_every = 8;
  // Measured after homing to the stress-free attitude.
  c.squareness = TrueSquareness{.span_m = 1.6,
                                .skew_m = c.truth.stress_free_skew_m,
                                .square_skew_m = 0.000030,
                                .turn_m_per_m = 30e-6,
                                .bow_m_per_m2 = 20e-6,
                                .middle_m = 0.5,
                                .scale_x = 2e-5,
                                .scale_y = -1e-5};
  return c;
}

TrueGantry random_truth(std::uint64_t seed) {
  Random r(seed);
  return drawn(seed, r).truth;
}

Campaign random_machine(std::uint64_t seed, bool& loops_found) {
  Random r(seed);
  Campaign c = drawn(seed, r);
  // Coarse counts and a fast loop would make more noise than force: nobody builds that.
  const bool coarse = c.sensing.count_m > 2e-6;
  const int hertz = coarse ? r.one_of({1000, 2000, 4000}) : r.one_of({1000, 2000, 4000, 5000, 8000, 10000});
  loops_found = find_loops(c, 1.0 / hertz);
  draw_runs(c, r);
  c.injection_every = hertz > 5000 ? 2 : 1;
  c.push_every = c.injection_every;
  c.move_every = std::max(1, hertz / 2000);
  c.search_every = std::max(1, hertz / 500);
  return c;
}

}  // namespace generator
