#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "signal/fft.h"
#include "signal/line_sums.h"
#include "signal/periodic.h"
#include "signal/response_routes.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;
constexpr std::size_t sides = 4;  // x_A, x_B, F_A, F_B

std::array<std::span<const double>, sides> columns(const Experiment& e) {
  return {e.position_a_m, e.position_b_m, e.force_a_n, e.force_b_n};
}

// One experiment cut into periods and summed.
struct Averaged {
  LineSums sums;
  std::size_t skipped = 0;
};

// Samples of one period less its first and less its drift, into the transform.
void place(std::span<const double> samples, double slope, std::span<double> to) {
  const double first = samples[0];
  for (std::size_t i = 0; i < samples.size(); ++i) to[i] = samples[i] - (first + slope * static_cast<double>(i));
}

std::size_t periods_to_skip(const std::array<std::span<const double>, sides>& signals, std::size_t length,
                            const ResponseOptions& options) {
  if (options.skip_periods >= 0) return static_cast<std::size_t>(options.skip_periods);
  std::size_t skip = 0;
  for (const auto& signal : signals) skip = std::max(skip, transient_periods(signal, length));
  return skip;
}

Averaged average(const Experiment& experiment, std::size_t length, const LineRange& range,
                 ForwardTransform& transform, const ResponseOptions& options) {
  Averaged result{LineSums(sides, range.count, true)};
  const auto signals = columns(experiment);
  result.skipped = periods_to_skip(signals, length, options);
  std::array<std::vector<double>, sides> drifts;
  for (std::size_t c = 0; c < sides; ++c) drifts[c] = period_drifts(signals[c], length);
  for (std::size_t p = result.skipped; p < drifts[0].size(); ++p) {
    bool whole = true;
    std::array<std::span<const Complex>, sides> spectra;
    for (std::size_t c = 0; c < sides && whole; ++c) {
      const double slope = options.detrend == Detrend::ramp ? drifts[c][p] : 0.0;
      place(signals[c].subspan(p * length, length), slope, transform.input(c));
      transform.run(c);
      // A missing sample anywhere makes the sum of all, line 0, not a number.
      whole = std::isfinite(transform.lines(c)[0].real());
      spectra[c] = transform.lines(c).subspan(range.from, range.count);
    }
    if (whole) result.sums.add(spectra);
  }
  return result;
}

// The forces of all experiments at one line.
struct Forces {
  Complex2x2 power;  // sum over experiments of Ubar Ubar'
  double noise = 0;  // variance of Ubar, both forces, summed over experiments
};

Forces forces_at(const std::vector<Averaged>& averaged, std::size_t k) {
  Forces forces;
  for (const auto& a : averaged) {
    const Complex ua = a.sums.mean(k, 2), ub = a.sums.mean(k, 3), across = math::times(ua, std::conj(ub));
    forces.power = forces.power + Complex2x2{std::norm(ua), across, std::conj(across), std::norm(ub)};
    forces.noise += (a.sums.variance(k, 2) + a.sums.variance(k, 3)) / static_cast<double>(a.sums.blocks());
  }
  return forces;
}

// Both directions of force stand out of the noise: smaller eigenvalue of Ubar Ubar' against its variance. Below 1e-9
// of the strongest amplitude it is rounding.
bool excited(const Forces& forces, double strongest, double ratio) {
  const double smaller = math::singular_values(forces.power)[1];
  return smaller > 1e-18 * strongest && smaller > ratio * 0.5 * forces.noise;
}

std::vector<LineMoments> moments_at(const std::vector<Averaged>& averaged, std::size_t k) {
  std::vector<LineMoments> moments;
  moments.reserve(averaged.size());
  for (const auto& a : averaged) moments.push_back(a.sums.moments(k));
  return moments;
}

void add_line(const Complex2x2& power, const std::vector<LineMoments>& moments, const std::vector<Averaged>& averaged,
              double hz, Response& response) {
  const Complex2x2 power_inverse = math::inverse(power);
  Complex2x2 cross;
  for (const auto& m : moments) {
    const Complex ua = std::conj(m.mean[2]), ub = std::conj(m.mean[3]);
    cross = cross + Complex2x2{math::times(m.mean[0], ua), math::times(m.mean[0], ub), math::times(m.mean[1], ua),
                               math::times(m.mean[1], ub)};
  }
  const Complex2x2 g = cross * power_inverse;
  ResponseCovariance covariance{};
  std::array<double, 2> explained{}, noise{};
  for (std::size_t e = 0; e < moments.size(); ++e) {
    const auto& m = moments[e];
    const Complex2x2 n = unexplained(g, [&](std::size_t i, std::size_t j) { return m.covariance[i][j]; });
    // Row e of Ubar^+ = Ubar_e' (Ubar Ubar')^-1.
    const Complex ua = std::conj(m.mean[2]), ub = std::conj(m.mean[3]);
    const Complex va = math::times(ua, power_inverse.aa) + math::times(ub, power_inverse.ba);
    const Complex vb = math::times(ua, power_inverse.ab) + math::times(ub, power_inverse.bb);
    const Complex2x2 spread = {std::norm(va), math::times(va, std::conj(vb)), math::times(vb, std::conj(va)),
                               std::norm(vb)};
    add_covariance(covariance, math::scaled(n, 1.0 / static_cast<double>(averaged[e].sums.blocks())), spread);
    explained[0] += std::norm(math::times(g.aa, m.mean[2]) + math::times(g.ab, m.mean[3]));
    explained[1] += std::norm(math::times(g.ba, m.mean[2]) + math::times(g.bb, m.mean[3]));
    noise[0] += std::max(n.aa.real(), 0.0);
    noise[1] += std::max(n.bb.real(), 0.0);
  }
  response.frequency_hz.push_back(hz);
  response.g.push_back(g);
  response.covariance.push_back(covariance);
  response.coherence.push_back({explained[0] / (explained[0] + noise[0]), explained[1] / (explained[1] + noise[1])});
}

// What the nearest excited line's G leaves at a line without excitation. `scale` makes amplitudes of lines.
UnexcitedLine leftover(const std::vector<LineMoments>& moments, const std::vector<Averaged>& averaged, double hz,
                       double scale, const Response& response) {
  const auto above = std::lower_bound(response.frequency_hz.begin(), response.frequency_hz.end(), hz);
  std::size_t at = static_cast<std::size_t>(above - response.frequency_hz.begin());
  if (at > 0 &&
      (at == response.frequency_hz.size() || hz - response.frequency_hz[at - 1] < response.frequency_hz[at] - hz))
    --at;
  const Complex2x2& g = response.g[at];
  UnexcitedLine left;
  left.hz = hz;
  std::array<double, 2> steady{}, noise{};
  for (std::size_t e = 0; e < moments.size(); ++e) {
    const auto& m = moments[e];
    const double share = scale * scale / static_cast<double>(moments.size());
    const Complex2x2 n = unexplained(g, [&](std::size_t i, std::size_t j) { return m.covariance[i][j]; });
    steady[0] += share * std::norm(m.mean[0] - math::times(g.aa, m.mean[2]) - math::times(g.ab, m.mean[3]));
    steady[1] += share * std::norm(m.mean[1] - math::times(g.ba, m.mean[2]) - math::times(g.bb, m.mean[3]));
    noise[0] += share * n.aa.real() / static_cast<double>(averaged[e].sums.blocks());
    noise[1] += share * n.bb.real() / static_cast<double>(averaged[e].sums.blocks());
  }
  left.position_a_m = std::sqrt(steady[0]);
  left.position_b_m = std::sqrt(steady[1]);
  left.noise_a_m = std::sqrt(std::max(noise[0], 0.0));
  left.noise_b_m = std::sqrt(std::max(noise[1], 0.0));
  return left;
}

void find_lines(const std::vector<Averaged>& averaged, const LineRange& range, std::size_t length,
                const ResponseOptions& options, Response& response) {
  std::vector<Forces> forces(range.count);
  double strongest = 0;
  for (std::size_t k = 0; k < range.count; ++k) {
    forces[k] = forces_at(averaged, k);
    strongest = std::max(strongest, math::singular_values(forces[k].power)[0]);
  }
  const auto hz = [&](std::size_t k) { return static_cast<double>(range.from + k) * response.line_spacing_hz; };
  std::vector<std::size_t> without;
  for (std::size_t k = 0; k < range.count; ++k) {
    if (excited(forces[k], strongest, options.excited_ratio))
      add_line(forces[k].power, moments_at(averaged, k), averaged, hz(k), response);
    else if (!response.g.empty())
      without.push_back(k);
  }
  for (const std::size_t k : without) {
    if (hz(k) > response.frequency_hz.back()) break;
    response.unexcited.push_back(
        leftover(moments_at(averaged, k), averaged, hz(k), 2.0 / static_cast<double>(length), response));
  }
}

}  // namespace

Response measure_periodic(std::span<const Experiment> experiments, const ResponseOptions& options) {
  if (experiments.size() < 2)
    return refuse_response("two recordings are needed, excited in different directions (one on A, one on B)");
  const double samples = options.period_s / options.sample_s;
  const auto length = static_cast<std::size_t>(std::lround(samples));
  if (length < 8) return refuse_response("the excitation's period holds fewer than 8 samples");
  ForwardTransform transform(length, sides);
  const LineRange range = line_range(length, options);
  if (range.count == 0) return refuse_response("no line between the two frequencies asked for");
  std::vector<Averaged> averaged;
  Response response;
  for (const auto& e : experiments) {
    // The cut may slip against the excitation by at most a twentieth of a sample over the recording.
    const double periods = static_cast<double>(e.position_a_m.size()) / samples;
    if (std::abs(samples - static_cast<double>(length)) * periods > 0.05)
      return refuse_response(
          fmt::format("the period of {} s is {:.4f} samples, not a whole number; give the exact "
                      "period or measure it as not periodic",
                      options.period_s, samples));
    averaged.push_back(average(e, length, range, transform, options));
    response.skipped_periods.push_back(averaged.back().skipped);
    response.averages += averaged.back().sums.blocks();
    if (averaged.back().sums.blocks() < 3)
      return refuse_response(
          fmt::format("recording {} holds {} whole periods without gaps after the transient; "
                      "three are needed to know the noise",
                      averaged.size(), averaged.back().sums.blocks()));
  }
  response.line_spacing_hz = 1 / (static_cast<double>(length) * options.sample_s);
  response.closed_loop_safe = true;
  find_lines(averaged, range, length, options, response);
  if (response.g.empty())
    return refuse_response(
        "no line where both directions of force stand out of the noise; are the recordings excited "
        "in different directions?");
  response.state = ResponseState::done;
  return response;
}

}  // namespace evenbeam::signal
