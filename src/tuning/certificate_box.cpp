#include "tuning/certificate_box.h"

#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/check.h"
#include "dynamics/beam.h"
#include "dynamics/motion.h"
#include "servo/loop_law.h"
#include "tuning/certificate_ball.h"

namespace evenbeam::tuning {
namespace {

using dynamics::Plant;


// The plant's numbers over the box.
struct Ranges {
  const CertificateCase& c;
  Span operator()(Part part) const {
    Plant copy = c.plant;
    const double value = value_of(copy, part);
    for (const UncertainPart& u : c.parts)
      if (u.part == part)
        return {value + c.part_of_intervals * (u.low - u.value), value + c.part_of_intervals * (u.high - u.value)};
    return {value, value};
  }
};

// A row of the places: middle + s by_place + what its bending entry may be off.
struct PlaceRow {
  Row middle = Row::Zero(), by_place = Row::Zero();
  double bending_radius = 0;
};

struct Builder {
  BoxModel model;
  dynamics::Coordinates at;
  double away = 0;  // half the box's width in w
  Builder(const dynamics::Coordinates& places, double half_width) : at(places), away(half_width) {
    model.middle.setZero(), model.by_frequency.setZero(), model.by_place.setZero();
    model.bending = at.bending;
    model.spots.reserve(most_spots);
  }
  void spot(const Row& u, const Row& v, double radius) {
    if (radius > 0) model.spots.push_back({u, v, radius});
  }
  // coefficient * row row^T
  void square(const Ball& c, const PlaceRow& row) {
    const auto outer = (row.middle * row.middle.transpose()).cast<Complex>();
    model.middle += c.middle * outer;
    model.by_frequency += away * c.slope * outer;
    spot(row.middle, row.middle, c.radius);
    const double most = c.largest(away), off = most - std::abs(c.middle);
    const Row& p = row.by_place;
    if (p.any()) {
      model.by_place += c.middle * (row.middle * p.transpose() + p * row.middle.transpose()).cast<Complex>();
      spot(row.middle, p, off), spot(p, row.middle, off), spot(p, p, most);
    }
    if (!(row.bending_radius > 0)) return;
    const Row bend = Row::Unit(at.bending);
    const double r = row.bending_radius * most;
    spot(row.middle, bend, r), spot(bend, row.middle, r), spot(bend, bend, r * row.bending_radius);
    if (p.any()) spot(p, bend, r), spot(bend, p, r);
  }
  void pair(const Ball& c, int k, int l) {
    for (const auto& [i, j] : {std::pair(k, l), std::pair(l, k)}) {
      model.middle(i, j) += c.middle;
      model.by_frequency(i, j) += away * c.slope;
      spot(Row::Unit(i), Row::Unit(j), c.radius);
    }
  }
  // coefficient * row against column k.
  void column(const Ball& c, const PlaceRow& row, int k) {
    model.middle.col(k) += c.middle * row.middle.cast<Complex>();
    model.by_frequency.col(k) += away * c.slope * row.middle.cast<Complex>();
    spot(row.middle, Row::Unit(k), c.radius);
    if (row.bending_radius > 0) spot(Row::Unit(at.bending), Row::Unit(k), c.largest(away) * row.bending_radius);
  }
};

dynamics::Coordinates places(const Plant& p) {
  dynamics::Coordinates at;
  if (p.a.drive_stiffness_n_per_m > 0) at.motor_a = at.count++;
  if (p.b.drive_stiffness_n_per_m > 0) at.motor_b = at.count++;
  at.mean = at.count++;
  at.yaw = at.count++;
  if (p.bending_hz > 0) at.bending = at.count++;
  return at;
}

PlaceRow end_row(const dynamics::Coordinates& at, double y_m, Span shape) {
  PlaceRow row;
  row.middle(at.mean) = 1;
  row.middle(at.yaw) = -y_m;
  if (at.bending >= 0)
    row.middle(at.bending) = (shape.low + shape.high) / 2, row.bending_radius = (shape.high - shape.low) / 2;
  return row;
}

// The shape about the middle of the places: slope exact at the middle end shape, the rest of it from the largest
// curvature, which lies at an end of the places or at mid-span; the doubt of the end shape grows towards the ends.
PlaceRow carriage_row(const dynamics::Coordinates& at, Span y, Span end_shape, double span_m) {
  PlaceRow row;
  const double middle = (y.low + y.high) / 2, half = (y.high - y.low) / 2;
  row.middle(at.mean) = 1;
  row.middle(at.yaw) = -middle;
  row.by_place(at.yaw) = -half;
  if (at.bending < 0) return row;
  const double nominal = (end_shape.low + end_shape.high) / 2, far = std::max(std::abs(y.low), std::abs(y.high));
  const dynamics::BendingShape shape = dynamics::bending_shape(nominal, span_m);
  row.middle(at.bending) = dynamics::shape_at(shape, middle);
  row.by_place(at.bending) = dynamics::slope_at(shape, middle) * half;
  double curvature = 0;
  for (double place : {y.low, y.high, y.low < 0 && y.high > 0 ? 0.0 : y.low})
    curvature = std::max(curvature, std::abs(dynamics::curvature_at(shape, place)));
  row.bending_radius = curvature * half * half / 2;
  if (end_shape.high > end_shape.low)
    row.bending_radius += dynamics::shape_at(dynamics::bending_shape(end_shape.high, span_m), far) -
                          dynamics::shape_at(dynamics::bending_shape(end_shape.low, span_m), far);
  return row;
}

void add_motion(Builder& b, const CertificateCase& c, const Box& box, PlaceRow motors[2]) {
  const Ranges range{c};
  const Plant& p = c.plant;
  const Span w = box.angular_rad_per_s;
  const double middle = (w.low + w.high) / 2, away = b.away;
  const Ball turn{Complex(0, middle), Complex(0, 1), 0};          // jw
  const Ball square{-middle * middle, -2 * middle, away * away};  // -w^2
  const Span shape = range(Part::bending_end);
  const PlaceRow ends[] = {end_row(b.at, -p.span_m / 2, shape), end_row(b.at, p.span_m / 2, shape)};
  const Part masses[] = {Part::motor_a, Part::motor_b}, springs[] = {Part::stiffness_a, Part::stiffness_b};
  const Part dampers[] = {Part::damping_a, Part::damping_b}, viscous[] = {Part::viscous_a, Part::viscous_b};
  for (int side = 0; side < 2; ++side) {
    const int motor = side == 0 ? b.at.motor_a : b.at.motor_b;
    motors[side] = ends[side];
    if (motor >= 0) {
      motors[side] = {.middle = Row::Unit(motor)};
      PlaceRow stretch = ends[side];
      stretch.middle = Row::Unit(motor) - stretch.middle;
      b.square(sum(ball(range(springs[side])), product(ball(range(dampers[side])), turn, away)), stretch);
    }
    b.square(product(ball(range(masses[side])), square, away), motors[side]);
    b.square(product(ball(range(viscous[side])), turn, away), ends[side]);
  }
  b.square(product(ball(range(Part::fixed_mass)), square, away), {.middle = Row::Unit(b.at.mean)});
  b.pair(times(-1, product(ball(range(Part::fixed_moment)), square, away)), b.at.mean, b.at.yaw);
  const Span carriage = range(Part::carriage_mass);
  const Ball mass = ball({carriage.low + box.payload_kg.low, carriage.high + box.payload_kg.high});
  const Ball moving = product(mass, square, away);
  Ball yaw = product(ball(range(Part::fixed_inertia)), square, away);
  yaw = sum(yaw, sum(ball(range(Part::yaw_stiffness)), product(ball(range(Part::yaw_damping)), turn, away)));
  yaw = sum(yaw, times(p.carriage_ahead_m * p.carriage_ahead_m, moving));
  b.square(yaw, {.middle = Row::Unit(b.at.yaw)});
  b.square(moving, carriage_row(b.at, box.carriage_y_m, shape, p.span_m));
  if (b.at.bending < 0) return;
  const Span hz = range(Part::bending_hz), damping = range(Part::bending_damping);
  const double two_pi = 2 * std::numbers::pi;
  const Ball modal = ball(range(Part::bending_mass));
  const Ball spring = ball({std::pow(two_pi * hz.low, 2), std::pow(two_pi * hz.high, 2)});
  const Ball damper =
      product(ball({2 * damping.low * two_pi * hz.low, 2 * damping.high * two_pi * hz.high}), turn, away);
  b.square(product(modal, sum(square, sum(spring, damper)), away), {.middle = Row::Unit(b.at.bending)});
}

// The share over an interval of places: the straight line between its ends, and how far it may be off that.
struct ShareLine {
  double middle = 0.5, ramp = 0, off = 0;
};
ShareLine share_line(const CertificateCase& c, Span y) {
  if (c.share.places.empty()) return {c.settings.share};
  const double low = share_at_place(c.share, y.low), high = share_at_place(c.share, y.high);
  ShareLine out{(low + high) / 2, (high - low) / 2, 0};
  for (const SharePlace& p : c.share.places)  // straight between places, so that it is furthest off at one of them
    if (p.y_m > y.low && p.y_m < y.high)
      out.off = std::max(out.off, std::abs(share_at_place(c.share, p.y_m) - low -
                                           (high - low) * (p.y_m - y.low) / (y.high - y.low)));
  return out;
}

double alias_at(const AliasBound& a, double w_high) {
  const double rate = 2 * a.half_rate_rad_per_s;
  const double hold = 2 * std::sin(std::min(w_high, a.half_rate_rad_per_s) * a.period_s / 2) / a.period_s;
  const auto term = [&](double x) {
    return hold / x / std::sqrt(1 + x * x * a.least_lag_s * a.least_lag_s) * a.gain / (x * x - a.square_rad2_per_s2);
  };
  double sum = 0;
  constexpr int kTerms = 20;
  for (int k = 1; k <= kTerms; ++k) sum += term(k * rate - w_high) + term(k * rate);
  // Terms fall at least as 1/k^3: the rest is below the integral from the last one.
  return sum + 2 * term(kTerms * rate) * kTerms / 2;
}

}  // namespace

std::optional<AliasBound> alias_bound(const CertificateCase& c) {
  const Ranges range{c};
  AliasBound out{.half_rate_rad_per_s = std::numbers::pi / c.settings.period_s,
                 .period_s = c.settings.period_s,
                 .least_lag_s = range(Part::lag).low};
  // Least mass, greatest stiffness in the sense of quadratic forms, over all places on a fine grid of them plus what
  // lies between: each entry's doubt goes into the diagonal (a symmetric matrix is at most its row sums).
  const double scale = std::max(range(Part::scale_a).high, range(Part::scale_b).high);
  constexpr int kPlaces = 32;
  for (int i = 0; i < kPlaces; ++i) {
    const double width = (c.carriage_y_m.high - c.carriage_y_m.low) / kPlaces;
    const Box box{{1, 1}, {c.carriage_y_m.low + i * width, c.carriage_y_m.low + (i + 1) * width}, c.payload_kg};
    const dynamics::Coordinates at = places(c.plant);
    Builder mass(at, 0), whole(at, 0), only_mass(at, 0);
    PlaceRow motors[2];
    const auto build = [&](Builder& b, double w) {
      Box there = box;
      there.angular_rad_per_s = {w, w};
      add_motion(b, c, there, motors);
    };
    // Z(w) = K - w^2 M + jwD: real parts at w = 0 and 1 give K and K - M
    build(whole, 0);
    build(mass, 1);
    const int n = whole.at.count;
    Eigen::MatrixXd k = whole.model.middle.topLeftCorner(n, n).real(),
                    m = k - Eigen::MatrixXd(mass.model.middle.topLeftCorner(n, n).real());
    build(only_mass, 1e6);  // radii of M alone: at a frequency where stiffness doubts do not count
    const auto doubt = [&](const Builder& b, double by) {
      Eigen::VectorXd rows = Eigen::VectorXd::Zero(n);
      for (const Spot& s : b.model.spots)
        rows += by * s.radius * s.u.head(n).cwiseAbs() * s.v.head(n).cwiseAbs().sum();
      const auto sway = b.model.by_place.topLeftCorner(n, n).cwiseAbs();
      return Eigen::VectorXd(rows + by * sway.rowwise().sum());
    };
    k.diagonal() += doubt(whole, 1);
    m.diagonal() -= doubt(only_mass, 1e-12);
    const Eigen::GeneralizedSelfAdjointEigenSolver<Eigen::MatrixXd> solver(k, m, Eigen::ComputeEigenvectors);
    if (solver.info() != Eigen::Success || !solver.eigenvalues().allFinite()) return std::nullopt;
    out.square_rad2_per_s2 = std::max(out.square_rad2_per_s2, solver.eigenvalues().maxCoeff());
    const Eigen::MatrixXd inverse = m.inverse();
    const auto size = [&](const PlaceRow& r) {
      Eigen::VectorXd x = r.middle.head(n);
      if (whole.at.bending >= 0)
        x(whole.at.bending) = std::copysign(std::abs(x(whole.at.bending)) + r.bending_radius, x(whole.at.bending));
      return std::sqrt(std::max(0.0, x.dot(inverse * x)));
    };
    const Span shape = range(Part::bending_end);
    double most = 0;
    for (double y : {-c.plant.span_m / 2, c.plant.span_m / 2})
      most = std::max(most, size(end_row(whole.at, y, shape)));
    double push = std::max(size(motors[0]), size(motors[1]));
    if (c.plant.feedback_on_motor) most = push;
    out.gain = std::max(out.gain, scale * most * push);
  }
  const double half = out.half_rate_rad_per_s;
  if (!(out.square_rad2_per_s2 < 0.8 * half * half)) return std::nullopt;
  return out;
}

BoxModel box_model(const CertificateCase& c, const Box& box, const AliasBound& alias) {
  const Ranges range{c};
  const Span w = box.angular_rad_per_s;
  const double period = c.settings.period_s, middle = (w.low + w.high) / 2, away = (w.high - w.low) / 2;
  Builder b(places(c.plant), away);
  const int n = b.at.count, va = n, vb = n + 1, im = n + 2, is = n + 3;
  b.model.coordinates = n, b.model.unknowns = n + 4;
  PlaceRow motors[2];
  add_motion(b, c, box, motors);
  const Ball path = times(-1, path_ball(middle, away, range(Part::delay), range(Part::lag), period));
  b.column(product(path, ball(range(Part::scale_a)), away), motors[0], va);
  b.column(product(path, ball(range(Part::scale_b)), away), motors[1], vb);

  const Complex z = std::polar(1.0, middle * period);
  const servo::LoopLaw law = servo::prepare(c.settings);
  const Ball mean = law_ball(law.mean, z, away), skew = law_ball(law.skew, z, away);
  const ShareLine share = share_line(c, box.carriage_y_m);
  Row to_mean = Row::Zero(), to_skew = Row::Zero();
  to_mean(va) = share.middle, to_mean(vb) = 1 - share.middle;
  to_skew(va) = 1, to_skew(vb) = -1;
  b.model.middle(va, va) = b.model.middle(vb, vb) = 1;
  b.column(mean, {.middle = to_mean}, im);
  b.column(skew, {.middle = to_skew}, is);
  b.model.by_place.col(im) += mean.middle * share.ramp * to_skew.cast<Complex>();
  const double most = mean.largest(away);
  b.spot(to_skew, Row::Unit(im), (most - std::abs(mean.middle)) * std::abs(share.ramp) + most * share.off);

  const Span shape = range(Part::bending_end);
  b.model.folded = alias_at(alias, w.high);
  for (int side = 0; side < 2; ++side) {
    const PlaceRow read =
        c.plant.feedback_on_motor ? motors[side] : end_row(b.at, (side == 0 ? -1 : 1) * c.plant.span_m / 2, shape);
    (side == 0 ? b.model.read_a : b.model.read_b) = read.middle;
    b.model.read_bending_radius = read.bending_radius;
    b.model.middle.row(im) += (0.5 * read.middle.transpose()).cast<Complex>();
    b.model.middle.row(is) += ((side == 0 ? 1 : -1) * read.middle.transpose()).cast<Complex>();
    Row into = Row::Zero();  // what a reading of this side does to mean and skew
    into(im) = 0.5, into(is) = side == 0 ? 1 : -1;
    b.spot(into, Row::Unit(va), b.model.folded);
    b.spot(into, Row::Unit(vb), b.model.folded);
  }
  // Both readings hold the bending alike: it is in the mean and cancels in the skew.
  if (b.at.bending >= 0) b.spot(Row::Unit(im), Row::Unit(b.at.bending), b.model.read_bending_radius);
  const Complex step = Complex(0, 2 * std::sin(middle * period / 2)) * std::polar(1.0, middle * period / 2);
  for (const auto& [q, k] : {std::pair(&law.mean, im), std::pair(&law.skew, is)}) {
    const bool integral = q->integral_factor > 0;
    b.model.middle(k, k) -= integral ? step : Complex(1);
    if (!integral) continue;
    b.model.by_frequency(k, k) -= away * Complex(0, period) * z;
    b.spot(Row::Unit(k), Row::Unit(k), away * away * period * period / 2);
  }
  base::check(b.model.spots.size() <= most_spots, "room for every doubt", {double(b.model.spots.size())});
  return b.model;
}

}  // namespace evenbeam::tuning
