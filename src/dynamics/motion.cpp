#include "dynamics/motion.h"

#include <numbers>

#include "base/check.h"
#include "dynamics/beam.h"

namespace evenbeam::dynamics {

namespace {

Coordinates place(const Plant& p) {
  Coordinates at;
  if (p.a.drive_stiffness_n_per_m > 0) at.motor_a = at.count++;
  if (p.b.drive_stiffness_n_per_m > 0) at.motor_b = at.count++;
  at.mean = at.count++;
  at.yaw = at.count++;
  if (p.bending_hz > 0) at.bending = at.count++;
  if (p.carriage_stiffness_n_per_m > 0 && p.carriage_mass_kg + p.payload_kg > 0) at.carriage = at.count++;
  return at;
}

// Position along x of the beam at y; the shape is asked only where the beam bends.
MotionRow beam_row(const BendingShape& shape, const Coordinates& at, double y_m) {
  MotionRow row = MotionRow::Zero(at.count);
  row(at.mean) = 1;
  row(at.yaw) = -y_m;
  if (at.bending >= 0) row(at.bending) = shape_at(shape, y_m);
  return row;
}

// Adds the motor, and the spring and damper of an elastic drive between it and its end.
void add_drive(Motion& m, const PlantSide& side, const MotionRow& motor, const MotionRow& end) {
  m.mass += side.motor_mass_kg * motor.transpose() * motor;
  const MotionRow stretch = motor - end;
  m.stiffness += side.drive_stiffness_n_per_m * stretch.transpose() * stretch;
  m.damping += side.drive_damping_n_s_per_m * stretch.transpose() * stretch;
  m.damping += side.viscous_n_s_per_m * end.transpose() * end;
}

void add_bridge(Motion& m, const Plant& p) {
  m.mass(m.at.mean, m.at.mean) += p.fixed_mass_kg;
  m.mass(m.at.yaw, m.at.yaw) += p.fixed_inertia_kg_m2;
  m.mass(m.at.mean, m.at.yaw) -= p.fixed_moment_kg_m;
  m.mass(m.at.yaw, m.at.mean) -= p.fixed_moment_kg_m;
  m.stiffness(m.at.yaw, m.at.yaw) += p.yaw_stiffness_n_m_per_rad;
  m.damping(m.at.yaw, m.at.yaw) += p.yaw_damping_n_m_s_per_rad;
  if (m.at.bending >= 0) {
    const double w = 2 * std::numbers::pi * p.bending_hz;
    m.mass(m.at.bending, m.at.bending) += p.bending_mass_kg;
    m.stiffness(m.at.bending, m.at.bending) += p.bending_mass_kg * w * w;
    m.damping(m.at.bending, m.at.bending) += 2 * p.bending_damping * w * p.bending_mass_kg;
  }
}

void add_carriage(Motion& m, const Plant& p, const BendingShape& shape) {
  const double mass = p.carriage_mass_kg + p.payload_kg;
  m.carriage = beam_row(shape, m.at, p.carriage_y_m);
  if (m.at.carriage >= 0) {
    m.carriage(m.at.carriage) = 1;
    m.stiffness(m.at.carriage, m.at.carriage) += p.carriage_stiffness_n_per_m;
    m.damping(m.at.carriage, m.at.carriage) += p.carriage_damping_n_s_per_m;
  }
  m.mass += mass * m.carriage.transpose() * m.carriage;
  m.mass(m.at.yaw, m.at.yaw) += mass * p.carriage_ahead_m * p.carriage_ahead_m;
}

}  // namespace

Motion motion(const Plant& p) {
  const auto troubles = plant_troubles(p);
  base::check(troubles.empty(), troubles.empty() ? "plant" : troubles.front());
  Motion m;
  m.at = place(p);
  const int n = m.at.count;
  m.mass = m.damping = m.stiffness = MotionMatrix::Zero(n, n);
  const BendingShape shape = m.at.bending >= 0 ? bending_shape(p.bending_end_shape, p.span_m) : BendingShape{};
  m.end_a = beam_row(shape, m.at, -p.span_m / 2);
  m.end_b = beam_row(shape, m.at, p.span_m / 2);
  m.motor_a = m.at.motor_a >= 0 ? MotionRow(MotionRow::Unit(n, m.at.motor_a)) : m.end_a;
  m.motor_b = m.at.motor_b >= 0 ? MotionRow(MotionRow::Unit(n, m.at.motor_b)) : m.end_b;
  m.feedback_a = p.feedback_on_motor ? m.motor_a : m.end_a;
  m.feedback_b = p.feedback_on_motor ? m.motor_b : m.end_b;
  add_bridge(m, p);
  add_carriage(m, p, shape);
  add_drive(m, p.a, m.motor_a, m.end_a);
  add_drive(m, p.b, m.motor_b, m.end_b);
  return m;
}

}  // namespace evenbeam::dynamics
