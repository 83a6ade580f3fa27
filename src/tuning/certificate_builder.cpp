#include "tuning/certificate_builder.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "dynamics/beam.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;

dynamics::Coordinates places(const Plant& p) {
  dynamics::Coordinates at;
  if (p.a.drive_stiffness_n_per_m > 0) at.motor_a = at.count++;
  if (p.b.drive_stiffness_n_per_m > 0) at.motor_b = at.count++;
  at.mean = at.count++;
  at.yaw = at.count++;
  if (p.bending_hz > 0) at.bending = at.count++;
  return at;
}

// d (shape at y * fitted end shape/end shape) / d p = fitted * rate * bending_pull, `rate` that of log |end shape|.
void add_end_doubt(PlaceRow& row, const Numbers& numbers, Span y) {
  const Number& end = numbers[Part::bending_end];
  if (!(end.reach > 0)) return;
  const double pull = bending_pull(end.value, numbers.c.plant.span_m, (y.low + y.high) / 2);
  row.bending_slope = end.value * numbers.end_rate * pull;
  row.bending_joint = std::abs(row.bending_slope) * end.reach;
  const Span inner = numbers.pull.over(y);
  double most = 0;  // how far the slope strays
  for (double rate : {numbers.end_rate_low, numbers.end_rate_high})
    for (double x : {inner.low, inner.high})
      most = std::max(most, std::abs(end.value * rate * x - row.bending_slope));
  row.bending_radius += end.reach * most;
}

// The shape about the middle of the places: slope exact at the fitted end shape, the rest of it from the largest
// curvature, which lies at an end of the places or at mid-span.
PlaceRow carriage_row(const dynamics::Coordinates& at, const Numbers& numbers, Span y) {
  PlaceRow row;
  const double middle = (y.low + y.high) / 2, half = (y.high - y.low) / 2;
  row.middle(at.mean) = 1;
  row.middle(at.yaw) = -middle;
  row.by_place(at.yaw) = -half;
  if (at.bending < 0) return row;
  const dynamics::BendingShape shape =
      dynamics::bending_shape(numbers[Part::bending_end].value, numbers.c.plant.span_m);
  row.middle(at.bending) = dynamics::shape_at(shape, middle);
  row.by_place(at.bending) = dynamics::slope_at(shape, middle) * half;
  double curvature = 0;
  for (double place : {y.low, y.high, y.low < 0 && y.high > 0 ? 0.0 : y.low})
    curvature = std::max(curvature, std::abs(dynamics::curvature_at(shape, place)));
  row.bending_radius = curvature * half * half / 2;
  add_end_doubt(row, numbers, y);
  return row;
}

Share share(const Number& n, Complex by) { return {n.index, n.slope * by}; }

}  // namespace

PlaceRow negative(PlaceRow row) {
  row.middle = -row.middle, row.by_place = -row.by_place, row.bending_slope = -row.bending_slope;
  return row;
}

Builder::Builder(const Numbers& numbers, double half_width)
    : at(places(numbers.c.plant)), away(half_width), bend_index(numbers[Part::bending_end].index) {
  for (Square* m : {&model.middle, &model.by_frequency, &model.by_place, &model.by_payload}) m->setZero();
  model.bending = at.bending;
  model.spots.reserve(most_spots);
  model.joint.reserve(most_joint);
}

void Builder::spot(const Row& u, const Row& v, double radius) {
  if (radius > 0) model.spots.push_back({u, v, radius});
}

// Those of one number with the same u or v are one.
void Builder::joint(int index, const ComplexRow& u, const ComplexRow& v) {
  if (index < 0) return;
  for (JointSpot& s : model.joint) {
    if (s.index != index) continue;
    if (s.v == v) return void(s.u += u);
    if (s.u == u) return void(s.v += v);
  }
  model.joint.push_back({index, u, v});
}

void Builder::square(const Ball& c, const PlaceRow& row, const Shares& shares) {
  const Row& p = row.by_place;
  const auto outer = (row.middle * row.middle.transpose()).cast<Complex>();
  model.middle += c.middle * outer;
  model.by_frequency += away * c.slope * outer;
  const ComplexRow seen = row.middle.cast<Complex>();
  for (const Share& s : shares) joint(s.index, s.by * seen, seen);
  spot(row.middle, row.middle, c.radius);
  const double most = c.largest(away), off = c.off_middle(away);
  if (p.any()) {
    model.by_place += c.middle * (row.middle * p.transpose() + p * row.middle.transpose()).cast<Complex>();
    spot(row.middle, p, off), spot(p, row.middle, off), spot(p, p, most);
  }
  const double bends = row.bending_radius + row.bending_joint;
  if (!(bends > 0)) return;
  const Row bend = Row::Unit(at.bending);
  const ComplexRow into = bend.cast<Complex>(), by = c.middle * row.bending_slope * seen;
  if (row.bending_slope != 0) joint(bend_index, by, into), joint(bend_index, into, by);
  const double r = std::abs(c.middle) * row.bending_radius + off * bends;
  spot(row.middle, bend, r), spot(bend, row.middle, r), spot(bend, bend, most * bends * bends);
  if (p.any()) spot(p, bend, most * bends), spot(bend, p, most * bends);
}

// c the coefficient of a mass of one; to first order in the mass it is a ramp, what moves with place or frequency
// besides is spots.
void Builder::payload(const Ball& c, double half_kg, const PlaceRow& row) {
  if (!(half_kg > 0)) return;
  const Row &p = row.by_place, &r = row.middle;
  model.by_payload += half_kg * c.middle * (r * r.transpose()).cast<Complex>();
  spot(r, r, half_kg * c.off_middle(away));
  const double most = half_kg * c.largest(away), bends = row.bending_radius + row.bending_joint;
  if (p.any()) spot(r, p, most), spot(p, r, most), spot(p, p, most);
  if (!(bends > 0)) return;
  const Row bend = Row::Unit(at.bending);
  spot(r, bend, most * bends), spot(bend, r, most * bends), spot(bend, bend, most * bends * bends);
  if (p.any()) spot(p, bend, most * bends), spot(bend, p, most * bends);
}

void Builder::pair(const Ball& c, int k, int l, const Shares& shares) {
  for (const auto& [i, j] : {std::pair(k, l), std::pair(l, k)}) {
    model.middle(i, j) += c.middle;
    model.by_frequency(i, j) += away * c.slope;
    spot(Row::Unit(i), Row::Unit(j), c.radius);
    for (const Share& s : shares) joint(s.index, s.by * ComplexRow::Unit(i), ComplexRow::Unit(j));
  }
}

void Builder::column(const Ball& c, const PlaceRow& row, int k, const Shares& shares) {
  const ComplexRow seen = row.middle.cast<Complex>(), into = ComplexRow::Unit(k);
  model.middle.col(k) += c.middle * seen;
  model.by_frequency.col(k) += away * c.slope * seen;
  for (const Share& s : shares) joint(s.index, s.by * seen, into);
  spot(row.middle, Row::Unit(k), c.radius);
  const double bends = row.bending_radius + row.bending_joint;
  if (!(bends > 0)) return;
  const Row bend = Row::Unit(at.bending);
  if (row.bending_slope != 0) joint(bend_index, c.middle * row.bending_slope * bend.cast<Complex>(), into);
  spot(bend, Row::Unit(k), std::abs(c.middle) * row.bending_radius + c.off_middle(away) * bends);
}

PlaceRow end_row(const dynamics::Coordinates& at, const Numbers& numbers, double y_m) {
  PlaceRow row;
  row.middle(at.mean) = 1;
  row.middle(at.yaw) = -y_m;
  if (at.bending >= 0) row.middle(at.bending) = numbers[Part::bending_end].value;
  return row;
}

void add_motion(Builder& b, const Numbers& numbers, const Box& box, PlaceRow motors[2]) {
  const Plant& plant = numbers.c.plant;
  const Span w = box.angular_rad_per_s;
  const double middle = (w.low + w.high) / 2, away = b.away;
  const Ball turn{Complex(0, middle), Complex(0, 1)};             // jw
  const Ball square{-middle * middle, -2 * middle, away * away};  // -w^2
  const PlaceRow ends[] = {end_row(b.at, numbers, -plant.span_m / 2), end_row(b.at, numbers, plant.span_m / 2)};
  const Part masses[] = {Part::motor_a, Part::motor_b}, springs[] = {Part::stiffness_a, Part::stiffness_b};
  const Part dampers[] = {Part::damping_a, Part::damping_b}, viscous[] = {Part::viscous_a, Part::viscous_b};
  const auto add = [&](Part part, const Ball& by, const PlaceRow& row) {
    const Number& n = numbers[part];
    b.square(product(n.ball(), by, away), row, {share(n, by.middle)});
  };
  for (int side = 0; side < 2; ++side) {
    const int motor = side == 0 ? b.at.motor_a : b.at.motor_b;
    motors[side] = ends[side];
    if (motor >= 0) {
      motors[side] = {.middle = Row::Unit(motor)};
      PlaceRow stretch = negative(ends[side]);
      stretch.middle += Row::Unit(motor);
      const Number &k = numbers[springs[side]], &d = numbers[dampers[side]];
      b.square(sum(k.ball(), product(d.ball(), turn, away)), stretch, {share(k, 1), share(d, turn.middle)});
    }
    add(masses[side], square, motors[side]);
    add(viscous[side], turn, ends[side]);
  }
  const PlaceRow mean{.middle = Row::Unit(b.at.mean)}, yaw{.middle = Row::Unit(b.at.yaw)};
  add(Part::fixed_mass, square, mean);
  const Number& moment = numbers[Part::fixed_moment];
  b.pair(times(-1, product(moment.ball(), square, away)), b.at.mean, b.at.yaw, {share(moment, -square.middle)});
  const Number& carriage = numbers[Part::carriage_mass];
  const double half_kg = (box.payload_kg.high - box.payload_kg.low) / 2;
  const Ball middle_kg{(box.payload_kg.low + box.payload_kg.high) / 2};
  const Ball moving = product(sum(carriage.ball(), middle_kg), square, away);
  add(Part::fixed_inertia, square, yaw);
  add(Part::yaw_stiffness, {1}, yaw);
  add(Part::yaw_damping, turn, yaw);
  const double ahead = plant.carriage_ahead_m * plant.carriage_ahead_m;
  if (ahead > 0) b.square(times(ahead, moving), yaw, {share(carriage, ahead * square.middle)});
  if (ahead > 0) b.payload(times(ahead, square), half_kg, yaw);
  const PlaceRow there = carriage_row(b.at, numbers, box.carriage_y_m);
  b.square(moving, there, {share(carriage, square.middle)});
  b.payload(square, half_kg, there);
  if (b.at.bending < 0) return;
  const PlaceRow bending{.middle = Row::Unit(b.at.bending)};
  add(Part::bending_mass, square, bending);
  add(Part::bending_hz, {1}, bending);
  add(Part::bending_damping, turn, bending);
}

}  // namespace evenbeam::tuning
