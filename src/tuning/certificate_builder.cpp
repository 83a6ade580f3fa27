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

// d shape / d half root at y, by the formula of dynamics/beam.h.
double by_half_root(const dynamics::BendingShape& s, double y_m) {
  const double a = s.half_root, x = 2 * y_m / s.span_m, r = std::cos(a) / std::cosh(a);
  const double r_slope = -(std::sin(a) * std::cosh(a) + std::cos(a) * std::sinh(a)) / std::pow(std::cosh(a), 2);
  const double up = std::cos(x * a) + r * std::cosh(x * a);
  const double up_slope = -x * std::sin(x * a) + r_slope * std::cosh(x * a) + r * x * std::sinh(x * a);
  return up_slope / (1 + r) - up * r_slope / std::pow(1 + r, 2);
}

// d shape / d end shape: 0 at mid-span, 1 at the ends.
double by_end_shape(double end_shape, double span_m, double y_m) {
  const dynamics::BendingShape shape = dynamics::bending_shape(end_shape, span_m);
  return by_half_root(shape, y_m) / by_half_root(shape, span_m / 2);
}

struct Extent {
  double low, high;
  void take(double x) { low = std::min(low, x), high = std::max(high, x); }
};

// d (shape at y * fitted end shape/end shape) / d p = fitted * rate * (by_end_shape - shape at y/end shape), `rate`
// that of log |end shape|. The bracket falls from -1/end shape at mid-span to 0 at the ends and grows with the end
// shape, but for less than the pad near free beams (certificate_test.cpp).
constexpr double kPad = 0.01;
double bracket(double end_shape, double span_m, double y_m) {
  const dynamics::BendingShape shape = dynamics::bending_shape(end_shape, span_m);
  return by_end_shape(end_shape, span_m, y_m) - dynamics::shape_at(shape, y_m) / end_shape;
}

void add_end_doubt(PlaceRow& row, const Numbers& numbers, Span y) {
  const Number& end = numbers[Part::bending_end];
  if (!(end.reach > 0)) return;
  const double span_m = numbers.c.plant.span_m;
  row.bending_slope = end.value * numbers.end_rate * bracket(end.value, span_m, (y.low + y.high) / 2);
  row.bending_joint = std::abs(row.bending_slope) * end.reach;
  const double far = std::max(std::abs(y.low), std::abs(y.high));
  const double near = y.low < 0 && y.high > 0 ? 0 : std::min(std::abs(y.low), std::abs(y.high));
  Extent inner{bracket(end.low, span_m, near), bracket(end.low, span_m, near)};
  inner.take(bracket(end.low, span_m, far));
  inner.take(bracket(end.high, span_m, near)), inner.take(bracket(end.high, span_m, far));
  const double pad = kPad * std::abs(bracket(end.value, span_m, 0));
  inner.low -= pad, inner.high += pad;
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
  model.middle.setZero(), model.by_frequency.setZero(), model.by_place.setZero();
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
  const Ball mass = sum(carriage.ball(), ball(box.payload_kg)), moving = product(mass, square, away);
  add(Part::fixed_inertia, square, yaw);
  add(Part::yaw_stiffness, {1}, yaw);
  add(Part::yaw_damping, turn, yaw);
  const double ahead = plant.carriage_ahead_m * plant.carriage_ahead_m;
  if (ahead > 0) b.square(times(ahead, moving), yaw, {share(carriage, ahead * square.middle)});
  b.square(moving, carriage_row(b.at, numbers, box.carriage_y_m), {share(carriage, square.middle)});
  if (b.at.bending < 0) return;
  const PlaceRow bending{.middle = Row::Unit(b.at.bending)};
  add(Part::bending_mass, square, bending);
  add(Part::bending_hz, {1}, bending);
  add(Part::bending_damping, turn, bending);
}

}  // namespace evenbeam::tuning
