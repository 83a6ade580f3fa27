#include "tuning/certificate_numbers.h"

#include <algorithm>
#include <cmath>

#include "identification/grey_box_model.h"

namespace evenbeam::tuning {
namespace {

using Scale = DoubtfulPart::Scale;

// exp(r) - 1 - r bounds |exp(x) - 1 - x| for |x| <= r. The end shape is in no matrix by itself
// (certificate_builder.h).
double rest_of(const DoubtfulPart& p, double reach) {
  return p.scale == Scale::logarithm ? p.value * (std::expm1(reach) - reach) : 0;
}

// Of the logistic curve itself: a parameter read back from a value is held off the curve's ends.
double rate_of(const DoubtfulPart& p, double off) {
  constexpr double range = identification::kFreeBeam - identification::kHeavyEnds;
  const double value = value_at(p, off), t = (value - identification::kHeavyEnds) / range;
  return range * t * (1 - t) / value;
}

// The end shape is -(b + a t), t the logistic curve, and its logarithm's rate a t (1 - t)/(b + a t): one maximum, at
// t = (sqrt(b^2 + a b) - b)/a.
void set_end_rates(Numbers& out, const DoubtfulPart& p, double reach) {
  constexpr double b = -identification::kHeavyEnds, a = identification::kHeavyEnds - identification::kFreeBeam;
  out.end_rate = rate_of(p, 0);
  const double low = rate_of(p, -reach), high = rate_of(p, reach);
  out.end_rate_low = std::min(low, high), out.end_rate_high = std::max(low, high);
  const double top = (std::sqrt(b * b + a * b) - b) / a;
  const auto part = [&](double off) { return (-value_at(p, off) - b) / a; };
  if (part(-reach) < top && part(reach) > top) out.end_rate_high = a * top * (1 - top) / (b + a * top);
}

}  // namespace

Numbers::Numbers(const CertificateCase& asked) : c(asked) {
  for (size_t k = 0; k < all.size(); ++k) {
    Number& n = all[k];
    n.value = n.low = n.high = number_of(c.plant, static_cast<Part>(k));
  }
  const auto count = static_cast<Eigen::Index>(c.part_of_doubt > 0 ? c.doubt.parts.size() : 0);
  along.resize(count, c.doubt.directions);
  const double radius = c.part_of_doubt * c.doubt.radius;
  for (Eigen::Index k = 0; k < count; ++k) {
    const DoubtfulPart& p = c.doubt.parts[static_cast<size_t>(k)];
    along.row(k) = radius * p.along;
    Number& n = all[static_cast<size_t>(p.part)];
    n.slope = slope_of(p), n.reach = along.row(k).norm(), n.index = static_cast<int>(k);
    if (p.scale == Scale::end_shape) set_end_rates(*this, p, n.reach);
    n.rest = rest_of(p, n.reach);
    const double a = value_at(p, -n.reach), b = value_at(p, n.reach);
    n.low = std::min(a, b), n.high = std::max(a, b);
  }
  const Number& end = all[static_cast<size_t>(Part::bending_end)];
  if (end.reach > 0) pull = PullRange({end.low, end.high}, c.plant.span_m);
  Eigen::VectorXd together = Eigen::VectorXd::Zero(c.doubt.directions);
  for (Part part : {Part::delay, Part::lag}) {
    const Number& n = all[static_cast<size_t>(part)];
    if (n.index >= 0) together += n.slope * along.row(n.index).transpose(), delays_together += n.rest;
  }
  delays_together += together.norm();
}

}  // namespace evenbeam::tuning
