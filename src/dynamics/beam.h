#pragma once
// Straight uniform beams in bending (Euler-Bernoulli): roots, frequencies, and the bridge's first bending mode as the
// Plant takes it.
//   f = (beta L)^2/(2 pi L^2) sqrt(EI/(rho A))
// Assumes slender beams (no shear, no rotary inertia), small motion. Frequency equations derived in
// docs/equations.md.
namespace evenbeam::dynamics {

enum class BeamEnds { clamped_free, free_free, clamped_clamped, pinned_pinned, clamped_pinned };

// n-th root beta L > 0 of the frequency equation (rigid modes left out), n = 1, 2, ...
double beam_root(BeamEnds ends, int n);
double beam_frequency_hz(double root, double bending_stiffness_n_m2, double mass_per_length_kg_per_m,
                         double length_m);

// Simply supported, mass at mid-span, Rayleigh with the static shape: omega^2 = 48 EI/L^3 / (m + 17/35 m_beam).
double rayleigh_centre_mass_rad_per_s(double bending_stiffness_n_m2, double beam_mass_kg, double length_m,
                                      double centre_mass_kg);

// First symmetric mode of a free beam with equal masses at both ends, a = beta L/2:
//   tan a + tanh a + 4 (m_end/m_beam) a = 0,   shape(y) = (cos 2ay/L + r cosh 2ay/L)/(1 + r),  r = cos a/cosh a
struct BridgeBending {
  double hz = 0;
  double modal_mass_kg = 0;  // shape 1 at mid-span
  double end_shape = 0;
};
BridgeBending bridge_bending(double bending_stiffness_n_m2, double beam_mass_kg, double span_m, double end_mass_kg);

// The same family of shapes by its value at the ends (-1.6452 free beam .. 0 pinned): what the Plant stores.
struct BendingShape {
  double half_root = 0;  // a
  double span_m = 0;
};
BendingShape bending_shape(double end_shape, double span_m);
double shape_at(const BendingShape& shape, double y_m);
double slope_at(const BendingShape& shape, double y_m);      // 1/m
double curvature_at(const BendingShape& shape, double y_m);  // 1/m^2

}  // namespace evenbeam::dynamics
