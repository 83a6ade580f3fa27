#pragma once
// How the end shape's doubt pulls on the bending's shape at y while the shape at the ends is held: with phi(x; a) the
// shape (dynamics/beam.h) at x = 2 |y|/span and half root a, e = phi(1; a) the end shape,
//   pull = d phi(x)/d e - phi(x)/e,   d phi(x)/d e = phi_a(x)/phi_a(1)
// -1/e at mid-span, 0 at the ends. Its extremes over a range of places and of end shapes are enclosed, not sampled:
// interval arithmetic over cells of x and pieces of a (Moore; common mathematics), the end shape growing less as the
// half root grows, so that a range of one is a range of the other. Double rounding is covered by widening each result
// by 1e-9 of the terms it is made of. Internal to tuning; docs/certificate.md.
#include <vector>

#include "tuning/certificate.h"

namespace evenbeam::tuning {

double bending_pull(double end_shape, double span_m, double y_m);

// Enclosure by cell of |y|, over all end shapes of a range.
class PullRange {
 public:
  PullRange() = default;
  PullRange(Span end_shapes, double span_m);  // both below zero, else everything is possible
  Span over(Span y_m) const;                  // inside the span

 private:
  double span_m_ = 1;
  std::vector<Span> cells_;
};

}  // namespace evenbeam::tuning
