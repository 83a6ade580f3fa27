#include "rehearsal/virtual_machine.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "machine/topology.h"

namespace evenbeam::rehearsal {
namespace {

constexpr double pi = std::numbers::pi;
constexpr double assumed_friction = 0.04, assumed_yaw_hz = 20, assumed_yaw_damping = 0.05;
constexpr double assumed_lag_s = 0.0003, assumed_period_s = 0.0005, assumed_acceleration = 4;
constexpr double mean_rad_per_s = 2 * pi * 3.5, skew_rad_per_s = 2 * pi * 5.5, soft_integral_s = 0.25;

// Takes what the papers say, else notes what is assumed instead.
struct Papers {
  std::vector<std::string>& assumed;
  double take(const std::optional<double>& stated, double otherwise, const char* what, const char* unit) {
    if (stated) return *stated;
    assumed.push_back(fmt::format("{} is not stated: {:.4g} {} assumed", what, otherwise, unit));
    return otherwise;
  }
};

struct Peaks {
  double a_n = 0, b_n = 0;
};

// Without any mass or force the machine is a middling one; with one of them the other follows from the acceleration
// that a fifth of the peak forces gives.
Peaks peaks_of(const machine::Machine& m, Papers& papers) {
  const double mass = m.bridge_mass_kg.value_or(100) + m.carriage_mass_kg.value_or(30);
  const double acceleration = m.limits.acceleration_m_per_s2.value_or(assumed_acceleration);
  const double otherwise = std::round(2.5 * mass * acceleration / 2);
  return {papers.take(m.a.peak_force_n, m.b.peak_force_n.value_or(otherwise), "peak force of A", "N"),
          papers.take(m.b.peak_force_n, m.a.peak_force_n.value_or(otherwise), "peak force of B", "N")};
}

void take_masses(const machine::Machine& m, double force_n, Papers& papers, dynamics::Plant& p) {
  const double acceleration = m.limits.acceleration_m_per_s2.value_or(assumed_acceleration);
  const double bridge =
      papers.take(m.bridge_mass_kg, std::round(0.3 * force_n / acceleration), "mass of the bridge", "kg");
  const double end_a = papers.take(m.end_mass_a_kg, 0, "mass of end A", "kg");
  const double end_b = papers.take(m.end_mass_b_kg, 0, "mass of end B", "kg");
  const double half = m.span_m / 2;
  p.span_m = m.span_m;
  p.fixed_mass_kg = bridge + end_a + end_b;
  p.fixed_moment_kg_m = bridge * m.bridge_centre_y_m.value_or(0) + (end_b - end_a) * half;
  p.fixed_inertia_kg_m2 =
      m.bridge_inertia_kg_m2.value_or(bridge * m.span_m * m.span_m / 12) + (end_a + end_b) * half * half;
  p.carriage_mass_kg = papers.take(m.carriage_mass_kg, 0, "mass of the carriage", "kg");
  p.carriage_y_m = papers.take(m.carriage_y_m, 0, "place of the carriage", "m");
  p.carriage_ahead_m = m.carriage_ahead_m.value_or(0);
}

void take_side(const machine::Side& side, const char* name, double peak_n, Papers& papers, dynamics::PlantSide& p) {
  const std::string mass = fmt::format("moving mass of motor and drive {}", name);
  p.motor_mass_kg = papers.take(machine::reflected_mass_kg(side), 0, mass.c_str(), "kg");
  if (side.drive_stiffness_n_per_m && p.motor_mass_kg > 0) {
    p.drive_stiffness_n_per_m = *side.drive_stiffness_n_per_m;
    p.drive_damping_n_s_per_m = 2 * 0.02 * std::sqrt(p.drive_stiffness_n_per_m * p.motor_mass_kg);
  }
  p.coulomb_n = assumed_friction * peak_n;
}

void take_yaw(const machine::Machine& m, Papers& papers, dynamics::Plant& p, bool& stiffness_assumed) {
  const double moment = first_moment_kg_m(p), own = yaw_inertia_kg_m2(p) - moment * moment / total_mass_kg(p);
  const bool pivoted = m.guides.ends == machine::EndKind::pivoted;
  const double otherwise = pivoted ? 0 : std::pow(2 * pi * assumed_yaw_hz, 2) * own;
  stiffness_assumed = !m.guides.yaw_stiffness_n_m_per_rad;
  p.yaw_stiffness_n_m_per_rad = papers.take(m.guides.yaw_stiffness_n_m_per_rad, otherwise,
                                            "yaw stiffness of the guides", "N m/rad (bridge yawing at 20 Hz)");
  p.yaw_damping_n_m_s_per_rad = 2 * assumed_yaw_damping * std::sqrt(p.yaw_stiffness_n_m_per_rad * own);
}

dynamics::Plant paper_plant(const machine::Machine& m, Peaks peaks, Papers& papers, bool& stiffness_assumed) {
  dynamics::Plant p;
  take_masses(m, peaks.a_n + peaks.b_n, papers, p);
  take_side(m.a, "A", peaks.a_n, papers, p.a);
  take_side(m.b, "B", peaks.b_n, papers, p.b);
  papers.assumed.push_back(
      fmt::format("friction is not on papers: {:.3g} N on A, {:.3g} N on B assumed", p.a.coulomb_n, p.b.coulomb_n));
  take_yaw(m, papers, p, stiffness_assumed);
  p.delay_s = m.servo_period_s.value_or(assumed_period_s) * m.delay_samples.value_or(1);
  p.current_lag_s = assumed_lag_s;
  p.feedback_on_motor = m.a.feedback_place == machine::FeedbackPlace::motor;
  return p;
}

}  // namespace

std::optional<std::string> not_in_virtual_gantry(const machine::Machine& machine) {
  const auto refusal = machine::refusal_of(machine, "rehearse");
  return refusal ? std::optional(refusal->why) : std::nullopt;
}

machine::Settings soft_loops(const dynamics::Plant& plant, double period_s, double peak_a_n, double peak_b_n) {
  machine::Settings s;
  s.period_s = period_s;
  s.peak_force_a_n = peak_a_n, s.peak_force_b_n = peak_b_n;
  const double filter_hz = std::min(300.0, 0.15 / period_s);
  const double scale = (plant.a.force_scale + plant.b.force_scale) / 2;  // real newtons per commanded one
  const double mass = total_mass_kg(plant) / scale;
  const double inertia = yaw_inertia_kg_m2(plant) / (plant.span_m * plant.span_m) / scale;
  s.mean = {mean_rad_per_s / 3, mass * mean_rad_per_s, soft_integral_s, filter_hz, {}};
  s.skew = {skew_rad_per_s / 3, inertia * skew_rad_per_s, soft_integral_s, filter_hz, {}};
  s.mass_ff_kg = mass;
  return s;
}

namespace {

// A doubt whose ends still make a plant; others are left out.
template <class Set>
void doubt(std::vector<Doubt>& doubts, const char* what, const dynamics::Plant& plant, double low, double high,
           Set set) {
  Doubt one{what, plant, plant};
  set(one.low, low), set(one.high, high);
  if (dynamics::plant_troubles(one.low).empty() && dynamics::plant_troubles(one.high).empty())
    doubts.push_back(std::move(one));
}

std::vector<Doubt> doubts_of_fit(const dynamics::Plant& p, const Known& known) {
  using dynamics::Plant;
  std::vector<Doubt> out;
  // The interval's distance from its value is laid on the plant's own, which may be another carriage place's.
  const auto add = [&](const char* what, const std::optional<base::Estimate>& e, double Plant::*field) {
    if (e)
      doubt(out, what, p, e->lower - e->value, e->upper - e->value, [&](Plant& q, double by) { q.*field += by; });
  };
  const auto add_side = [&](const char* what, const std::optional<base::Estimate>& e,
                            dynamics::PlantSide Plant::*side, double dynamics::PlantSide::*field) {
    if (e)
      doubt(out, what, p, e->lower - e->value, e->upper - e->value,
            [&](Plant& q, double by) { q.*side.*field += by; });
  };
  add("moving mass", known.moving_mass_kg, &Plant::fixed_mass_kg);
  add("yaw inertia", known.yaw_inertia_kg_m2, &Plant::fixed_inertia_kg_m2);
  add("yaw stiffness", known.yaw_stiffness_n_m_per_rad, &Plant::yaw_stiffness_n_m_per_rad);
  add("yaw damping", known.yaw_damping_n_m_s_per_rad, &Plant::yaw_damping_n_m_s_per_rad);
  add_side("friction of A", known.coulomb_a_n, &Plant::a, &dynamics::PlantSide::coulomb_n);
  add_side("friction of B", known.coulomb_b_n, &Plant::b, &dynamics::PlantSide::coulomb_n);
  add_side("force scale of A", known.force_scale_a, &Plant::a, &dynamics::PlantSide::force_scale);
  add_side("force scale of B", known.force_scale_b, &Plant::b, &dynamics::PlantSide::force_scale);
  return out;
}

std::vector<Doubt> doubts_of_papers(const dynamics::Plant& p, bool stiffness_assumed) {
  using dynamics::Plant;
  std::vector<Doubt> out;
  if (stiffness_assumed && p.yaw_stiffness_n_m_per_rad > 0)
    doubt(out, "yaw stiffness", p, 0.25, 4, [](Plant& q, double by) { q.yaw_stiffness_n_m_per_rad *= by; });
  doubt(out, "friction", p, 0.5, 2, [](Plant& q, double by) { q.a.coulomb_n *= by, q.b.coulomb_n *= by; });
  return out;
}

}  // namespace

VirtualMachine virtual_machine(const machine::Machine& machine, const std::optional<dynamics::Plant>& fitted,
                               const Known& known) {
  VirtualMachine out{.carriage = machine::carriage_range(machine)};
  Papers papers{out.assumed};
  const Peaks peaks = peaks_of(machine, papers);
  out.fitted = fitted && dynamics::plant_troubles(*fitted).empty();
  if (fitted && !out.fitted)
    out.assumed.push_back("the fitted plant breaks a rule (" + dynamics::plant_troubles(*fitted).front() +
                          "): the papers are used");
  out.gantry.plant = out.fitted ? *fitted : paper_plant(machine, peaks, papers, out.stiffness_assumed);
  out.doubts =
      out.fitted ? doubts_of_fit(out.gantry.plant, known) : doubts_of_papers(out.gantry.plant, out.stiffness_assumed);
  const double period = papers.take(machine.servo_period_s, assumed_period_s, "servo period", "s");
  out.gantry.effects.a.peak_force_n = peaks.a_n, out.gantry.effects.b.peak_force_n = peaks.b_n;
  out.gantry.effects.a.count_m = machine.a.count_m.value_or(0);
  out.gantry.effects.b.count_m = machine.b.count_m.value_or(0);
  out.loops = soft_loops(out.gantry.plant, period, peaks.a_n, peaks.b_n);
  return out;
}

}  // namespace evenbeam::rehearsal
