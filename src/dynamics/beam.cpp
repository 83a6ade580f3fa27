#include "dynamics/beam.h"

#include <cmath>
#include <numbers>
#include <utility>

#include "base/check.h"

namespace evenbeam::dynamics {

namespace {

using std::numbers::pi;

// The root of f in [low, high], where f changes sign once.
template <class Function>
double bisect(Function f, double low, double high) {
  const bool rising = f(low) < 0;
  for (int i = 0; i < 200 && std::nextafter(low, high) < high; ++i) {
    const double middle = 0.5 * (low + high);
    ((f(middle) < 0) == rising ? low : high) = middle;
  }
  return 0.5 * (low + high);
}

// False position, the end that stays halved the second time (the Illinois rule, from memory); soon with a look a
// little to either side of the guess, so that both ends draw in. Bisection then ends where it would have ended from
// the outset, in half the looks.
template <class Function>
std::pair<double, double> narrowed(Function f, double low, double high) {
  constexpr double kWidth = 1e-12;
  constexpr int kMost = 30, kOneLook = 3;
  double at_low = f(low), at_high = f(high);
  int last = 0;
  for (int i = 0; i < kMost && high - low > kWidth && at_low * at_high < 0; ++i) {
    const double guess = high - at_high * (high - low) / (at_high - at_low);
    for (double x : {guess, guess - kWidth / 4, guess + kWidth / 4}) {
      if (!(x > low && x < high)) continue;
      const double here = f(x);
      if (here == 0) return {low, high};
      const int side = (here < 0) == (at_low < 0) ? 1 : -1;
      const double kept = x == guess && side == last ? 0.5 : 1;
      if (side == 1)
        low = x, at_low = here, at_high *= kept;
      else
        high = x, at_high = here, at_low *= kept;
      last = side;
      if (i < kOneLook) break;
    }
  }
  return {low, high};
}

// Integral of shape^2 over the span, Simpson in 2000 parts: 1e-12 relative for these smooth shapes.
double square_integral(const BendingShape& shape) {
  const int parts = 2000;
  const double h = shape.span_m / parts;
  double sum = 0;
  for (int i = 0; i <= parts; ++i) {
    const double value = shape_at(shape, -shape.span_m / 2 + i * h);
    sum += value * value * (i == 0 || i == parts ? 1 : i % 2 ? 4 : 2);
  }
  return sum * h / 3;
}

double end_shape_of(double a) { return 2 * std::cos(a) / (1 + std::cos(a) / std::cosh(a)); }

// First root of tan a + tanh a = 0.
constexpr double free_half_root = 2.3650203724313527;

}  // namespace

double beam_root(BeamEnds ends, int n) {
  base::check(n >= 1 && n < 200, "root index 1..199", {double(n)});
  // Divided by cosh, so that the upper roots do not overflow: cos x cosh x = c becomes cos x = c/cosh x.
  switch (ends) {
    case BeamEnds::pinned_pinned:
      return n * pi;
    case BeamEnds::clamped_free:
      return bisect([](double x) { return std::cos(x) + 1 / std::cosh(x); }, (n - 1) * pi + (n == 1 ? 1 : 0), n * pi);
    case BeamEnds::free_free:
    case BeamEnds::clamped_clamped:
      return bisect([](double x) { return std::cos(x) - 1 / std::cosh(x); }, n * pi, (n + 1) * pi);
    case BeamEnds::clamped_pinned:
      return bisect([](double x) { return std::sin(x) - std::cos(x) * std::tanh(x); }, n * pi, (n + 0.5) * pi);
  }
  base::check(false, "beam ends known");
  return 0;
}

double beam_frequency_hz(double root, double ei, double mass_per_length, double length_m) {
  return root * root / (2 * pi * length_m * length_m) * std::sqrt(ei / mass_per_length);
}

double rayleigh_centre_mass_rad_per_s(double ei, double beam_mass_kg, double length_m, double centre_mass_kg) {
  return std::sqrt(48 * ei / (length_m * length_m * length_m) / (centre_mass_kg + 17.0 / 35 * beam_mass_kg));
}

BridgeBending bridge_bending(double ei, double beam_mass_kg, double span_m, double end_mass_kg) {
  base::check(ei > 0 && beam_mass_kg > 0 && span_m > 0 && end_mass_kg >= 0, "positive beam",
              {ei, beam_mass_kg, span_m, end_mass_kg});
  const double ratio = end_mass_kg / beam_mass_kg;
  // Times cos a, to be free of the pole: between pi/2 (pinned by mass) and the free root.
  const double a = bisect([&](double x) { return std::sin(x) + (std::tanh(x) + 4 * ratio * x) * std::cos(x); },
                          pi / 2, free_half_root + 1e-9);
  const BendingShape shape{a, span_m};
  BridgeBending out;
  out.hz = beam_frequency_hz(2 * a, ei, beam_mass_kg / span_m, span_m);
  out.end_shape = end_shape_of(a);
  out.modal_mass_kg =
      beam_mass_kg / span_m * square_integral(shape) + 2 * end_mass_kg * out.end_shape * out.end_shape;
  return out;
}

BendingShape bending_shape(double end_shape, double span_m) {
  base::check(end_shape < 0 && end_shape > -1.65 && span_m > 0, "end shape in the family", {end_shape, span_m});
  const auto off = [&](double a) { return end_shape - end_shape_of(a); };
  const auto [low, high] = narrowed(off, pi / 2, free_half_root + 1e-3);
  return {bisect(off, low, high), span_m};
}

double shape_at(const BendingShape& s, double y_m) {
  const double k = 2 * s.half_root / s.span_m, r = std::cos(s.half_root) / std::cosh(s.half_root);
  return (std::cos(k * y_m) + r * std::cosh(k * y_m)) / (1 + r);
}

double slope_at(const BendingShape& s, double y_m) {
  const double k = 2 * s.half_root / s.span_m, r = std::cos(s.half_root) / std::cosh(s.half_root);
  return k * (-std::sin(k * y_m) + r * std::sinh(k * y_m)) / (1 + r);
}

double curvature_at(const BendingShape& s, double y_m) {
  const double k = 2 * s.half_root / s.span_m, r = std::cos(s.half_root) / std::cosh(s.half_root);
  return k * k * (-std::cos(k * y_m) + r * std::cosh(k * y_m)) / (1 + r);
}

}  // namespace evenbeam::dynamics
