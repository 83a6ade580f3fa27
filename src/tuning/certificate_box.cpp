#include "tuning/certificate_box.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "base/check.h"
#include "servo/loop_law.h"
#include "tuning/certificate_builder.h"

namespace evenbeam::tuning {
namespace {

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

Delays delays_of(const Numbers& numbers) {
  const Number &delay = numbers[Part::delay], &lag = numbers[Part::lag];
  return {delay.value,
          lag.value,
          delay.slope,
          lag.slope,
          delay.reach,
          lag.reach,
          delay.rest,
          lag.rest,
          lag.low,
          lag.high,
          numbers.delays_together};
}

void add_forces(Builder& b, const Numbers& numbers, double middle, double away, const PlaceRow motors[2]) {
  const Path path = path_ball(middle, away, delays_of(numbers), numbers.c.settings.period_s);
  const Number* scales[] = {&numbers[Part::scale_a], &numbers[Part::scale_b]};
  for (int side = 0; side < 2; ++side) {
    const Number& g = *scales[side];
    b.column(times(-1, product(path.ball, g.ball(), away)), motors[side], b.at.count + side,
             {{g.index, -path.ball.middle * g.slope},
              {numbers[Part::delay].index, -path.by_delay * g.value},
              {numbers[Part::lag].index, -path.by_lag * g.value}});
  }
}

void add_law(Builder& b, const CertificateCase& c, const Box& box, const servo::LoopLaw& law, Complex z) {
  const int n = b.at.count, va = n, vb = n + 1, im = n + 2, is = n + 3;
  const Ball mean = law_ball(law.mean, z, b.away), skew = law_ball(law.skew, z, b.away);
  const ShareLine share = share_line(c, box.carriage_y_m);
  Row to_mean = Row::Zero(), to_skew = Row::Zero();
  to_mean(va) = share.middle, to_mean(vb) = 1 - share.middle;
  to_skew(va) = 1, to_skew(vb) = -1;
  b.model.middle(va, va) = b.model.middle(vb, vb) = 1;
  b.column(mean, {.middle = to_mean}, im);
  b.column(skew, {.middle = to_skew}, is);
  b.model.by_place.col(im) += mean.middle * share.ramp * to_skew.cast<Complex>();
  const double most = mean.largest(b.away);
  b.spot(to_skew, Row::Unit(im), (most - std::abs(mean.middle)) * std::abs(share.ramp) + most * share.off);
}

void add_readings(Builder& b, const Numbers& numbers, const PlaceRow motors[2]) {
  const int n = b.at.count, va = n, vb = n + 1, im = n + 2, is = n + 3;
  const dynamics::Plant& plant = numbers.c.plant;
  for (int side = 0; side < 2; ++side) {
    const PlaceRow read =
        plant.feedback_on_motor ? motors[side] : end_row(b.at, numbers, (side == 0 ? -1 : 1) * plant.span_m / 2);
    (side == 0 ? b.model.read_a : b.model.read_b) = read.middle;
    b.model.middle.row(im) += (0.5 * read.middle.transpose()).cast<Complex>();
    b.model.middle.row(is) += ((side == 0 ? 1 : -1) * read.middle.transpose()).cast<Complex>();
    Row into = Row::Zero();  // what a reading of this side does to mean and skew
    into(im) = 0.5, into(is) = side == 0 ? 1 : -1;
    b.spot(into, Row::Unit(va), b.model.folded);
    b.spot(into, Row::Unit(vb), b.model.folded);
  }
}

}  // namespace

BoxModel box_model(const Numbers& numbers, const Box& box, const AliasBound& alias) {
  const Span w = box.angular_rad_per_s;
  const double period = numbers.c.settings.period_s, middle = (w.low + w.high) / 2, away = (w.high - w.low) / 2;
  Builder b(numbers, away);
  const int n = b.at.count, im = n + 2, is = n + 3;
  b.model.coordinates = n, b.model.unknowns = n + 4;
  PlaceRow motors[2];
  add_motion(b, numbers, box, motors);
  add_forces(b, numbers, middle, away, motors);
  const Complex z = std::polar(1.0, middle * period);
  const servo::LoopLaw law = servo::prepare(numbers.c.settings);
  add_law(b, numbers.c, box, law, z);
  b.model.folded = alias_at(alias, w.high);
  add_readings(b, numbers, motors);
  const Complex step = Complex(0, 2 * std::sin(middle * period / 2)) * std::polar(1.0, middle * period / 2);
  for (const auto& [q, k] : {std::pair(&law.mean, im), std::pair(&law.skew, is)}) {
    const bool integral = q->integral_factor > 0;
    b.model.middle(k, k) -= integral ? step : Complex(1);
    if (!integral) continue;
    b.model.by_frequency(k, k) -= away * Complex(0, period) * z;
    b.spot(Row::Unit(k), Row::Unit(k), away * away * period * period / 2);
  }
  base::check(b.model.spots.size() <= most_spots && b.model.joint.size() <= most_joint, "room for every doubt",
              {double(b.model.spots.size()), double(b.model.joint.size())});
  return std::move(b.model);
}

}  // namespace evenbeam::tuning
