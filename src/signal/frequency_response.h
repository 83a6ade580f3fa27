#pragma once
// 2x2 frequency response of positions to forces,  Y(f) = G(f) U(f),  Y = [x_A; x_B] in m, U = [F_A; F_B] in N, from
// two or more recordings ("experiments") that excite the machine in different directions; loops open or closed.
//
// Periodic excitation (joint input-output): per line, averages over whole periods of all four channels, then
//   G = Ybar Ubar^+  (columns = experiments).
// Both averages hold the excitation's answer only, so feedback of noise does not bias G as the periods grow.
//   n = Y - G U per period;  cov vec(G) = sum_e  cov(n_e)/P_e  (x)  |Ubar^+ row|^2  (first order, circular).
// Anything else (Welch, Hann, half overlap):  G = S_yr S_ur^-1 with r an outside signal that noise does not reach
//   (references); with r = u (none given) it is the usual S_yu S_uu^-1, right with loops open, biased with loops
//   closed.
// Multiple coherence of output i: share of its power explained by both forces.
//
// The forces are the commands: hold, computing and transport delay and current lag are part of G. A force held over a
// controller period T adds exp(-s T/2) sinc; a recorder slower than the controller sees samples, not means.
// Missing samples (NaN) take out the period or segment they fall into; too few left is refused with a reason.
// Sources: Pintelon and Schoukens, System Identification (periodic joint input-output, variance from periods);
// Bendat and Piersol, Random Data (multiple coherence, variance of G).
#include <array>
#include <span>
#include <string>
#include <vector>

#include "math/complex2x2.h"

namespace evenbeam::signal {

struct Experiment {
  std::span<const double> position_a_m, position_b_m;  // all of one length
  std::span<const double> force_a_n, force_b_n;
  std::span<const double> reference_a, reference_b;  // optional, for the Welch route only; any unit
};

enum class Detrend { none, mean, ramp };

struct ResponseOptions {
  double sample_s = 0;              // > 0
  double from_hz = 0, to_hz = 0;    // lines kept; to_hz = 0: up to half the sample rate
  double period_s = 0;              // of the excitation; 0 = not periodic: Welch
  int skip_periods = -1;            // at the start of each experiment; -1: until the transient is gone
  double segment_s = 1;             // Welch: length of a segment, rounded to samples
  Detrend detrend = Detrend::ramp;  // periodic: mean, or mean and drift; Welch: per segment
  double excited_ratio = 30;        // a line counts as excited where P |Ubar|^2 exceeds this times its variance
                                    // (noise alone with 8 periods exceeds it once in about 50,000 lines)
};

enum class ResponseState { not_done, done, refused };

// Hermitian covariance of vec(G) = (aa, ab, ba, bb), row-major 4x4: entry [4 i + j] = E[dg_i conj(dg_j)].
using ResponseCovariance = std::array<math::Complex, 16>;

// What the forces do not explain at lines they do not carry: nonlinear distortion, cogging, hum.
struct UnexcitedLine {
  double hz = 0;
  double position_a_m = 0, position_b_m = 0;  // amplitude that repeats from period to period (root of mean square)
  double noise_a_m = 0, noise_b_m = 0;        // standard deviation of that amplitude
};

struct Response {
  ResponseState state = ResponseState::not_done;
  std::string reason;                            // in words where refused; cautions where done
  std::vector<double> frequency_hz;              // lines kept, rising
  std::vector<math::Complex2x2> g;               // m/N (per-side view); ab = position A per force B
  std::vector<ResponseCovariance> covariance;    // of the entries of g
  std::vector<std::array<double, 2>> coherence;  // multiple, output A and B, 0..1
  std::vector<UnexcitedLine> unexcited;          // periodic only
  std::size_t averages = 0;                      // periods used (all experiments) or segments
  std::vector<std::size_t> skipped_periods;      // per experiment
  double line_spacing_hz = 0;
  bool closed_loop_safe = false;  // true where G is not biased by feedback of noise
};

// Standard deviation of the entries (aa, ab, ba, bb): root of E|dg|^2; real and imaginary part share it equally.
std::array<double, 4> standard_deviations(const ResponseCovariance& covariance);

Response measure_response(std::span<const Experiment> experiments, const ResponseOptions& options);

// The mean and skew view:  [x_m; s] = G' [f_m; d],  x_m = (x_A + x_B)/2, s = x_A - x_B, f_m = F_A + F_B,
// d = (F_A - F_B)/2; aa = x_m per f_m, bb = skew per fight. Coherence stays that of the sides. And back.
Response mean_skew_view(const Response& sides);
Response side_view(const Response& mean_skew);

}  // namespace evenbeam::signal
