#pragma once
// Inner part of frequency_response: the two routes and what they share.
#include "signal/frequency_response.h"

namespace evenbeam::signal {

struct LineRange {
  std::size_t from = 1, count = 0;  // bins of the transform; bin 0 (the mean) never
};
LineRange line_range(std::size_t length, const ResponseOptions& options);

// cov[4 i' + j'] += noise(i, k) * excitation(j, l), entry i' = (i, j), j' = (k, l).
void add_covariance(ResponseCovariance& covariance, const math::Complex2x2& noise,
                    const math::Complex2x2& excitation);

// Noise of [1 -G] z at one line: C_yy - G C_uy - C_yu G' + G C_uu G'; `entry(i, j)` over z = (x_A, x_B, F_A, F_B).
template <class Entry>
math::Complex2x2 unexplained(const math::Complex2x2& g, Entry entry) {
  const math::Complex2x2 yy{entry(0, 0), entry(0, 1), entry(1, 0), entry(1, 1)};
  const math::Complex2x2 yu{entry(0, 2), entry(0, 3), entry(1, 2), entry(1, 3)};
  const math::Complex2x2 uu{entry(2, 2), entry(2, 3), entry(3, 2), entry(3, 3)};
  const math::Complex2x2 cross = yu * math::adjoint(g);
  return yy - cross - math::adjoint(cross) + g * uu * math::adjoint(g);
}

Response refuse_response(std::string reason);
Response measure_periodic(std::span<const Experiment> experiments, const ResponseOptions& options);
Response measure_welch(std::span<const Experiment> experiments, const ResponseOptions& options);

}  // namespace evenbeam::signal
