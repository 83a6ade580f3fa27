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

// Samples of one period less its mean and drift, into the transform.
void place(std::span<const double> samples, double mean, double slope, std::span<double> to) {
  const double start = mean - slope * static_cast<double>(samples.size() - 1) / 2;
  for (std::size_t i = 0; i < samples.size(); ++i) to[i] = samples[i] - (start + slope * static_cast<double>(i));
}

Averaged average(const Experiment& experiment, std::size_t length, const LineRange& range,
                 std::vector<ForwardTransform>& transforms, const ResponseOptions& options) {
  Averaged result{LineSums(sides, range.count, true)};
  const auto signals = columns(experiment);
  std::array<std::vector<double>, sides> means, slopes;
  if (options.skip_periods >= 0) result.skipped = static_cast<std::size_t>(options.skip_periods);
  for (const auto& signal : signals)
    if (options.skip_periods < 0) result.skipped = std::max(result.skipped, transient_periods(signal, length));
  for (std::size_t c = 0; c < sides; ++c) {
    means[c] = period_means(signals[c], length);
    slopes[c] = period_drifts(signals[c], length);
  }
  for (std::size_t p = result.skipped; p < means[0].size(); ++p) {
    bool whole = true;
    for (std::size_t c = 0; c < sides; ++c)
      whole = whole && std::isfinite(means[c][p]) && std::isfinite(slopes[c][p]);
    if (!whole) continue;
    std::array<std::span<const Complex>, sides> spectra;
    for (std::size_t c = 0; c < sides; ++c) {
      const double slope = options.detrend == Detrend::ramp ? slopes[c][p] : 0.0;
      place(signals[c].subspan(p * length, length), means[c][p], slope, transforms[c].input());
      transforms[c].run();
      spectra[c] = transforms[c].lines().subspan(range.from, range.count);
    }
    result.sums.add(spectra);
  }
  return result;
}

// The averages of all experiments at one line.
struct Line {
  std::vector<LineMoments> moments;
  Complex2x2 force_power;  // sum over experiments of Ubar Ubar'
  double force_noise = 0;  // variance of Ubar, both forces, summed over experiments
};

Line gather(const std::vector<Averaged>& averaged, std::size_t k) {
  Line line;
  for (const auto& a : averaged) {
    line.moments.push_back(a.sums.moments(k));
    const auto& m = line.moments.back();
    const Complex ua = m.mean[2], ub = m.mean[3];
    line.force_power = line.force_power + Complex2x2{std::norm(ua), math::times(ua, std::conj(ub)),
                                                     math::times(ub, std::conj(ua)), std::norm(ub)};
    line.force_noise +=
        (m.covariance[2][2].real() + m.covariance[3][3].real()) / static_cast<double>(a.sums.blocks());
  }
  return line;
}

// Both directions of force stand out of the noise: smaller eigenvalue of Ubar Ubar' against its variance.
bool excited(const Line& line, double strongest, double ratio) {
  const double smaller = math::singular_values(line.force_power)[1];
  return smaller > 1e-18 * strongest && smaller > ratio * 0.5 * line.force_noise;
}

void add_line(const Line& line, const std::vector<Averaged>& averaged, double hz, Response& response) {
  const Complex2x2 power_inverse = math::inverse(line.force_power);
  Complex2x2 cross;
  for (const auto& m : line.moments) {
    const Complex ua = std::conj(m.mean[2]), ub = std::conj(m.mean[3]);
    cross = cross + Complex2x2{math::times(m.mean[0], ua), math::times(m.mean[0], ub), math::times(m.mean[1], ua),
                               math::times(m.mean[1], ub)};
  }
  const Complex2x2 g = cross * power_inverse;
  ResponseCovariance covariance{};
  std::array<double, 2> explained{}, noise{};
  for (std::size_t e = 0; e < line.moments.size(); ++e) {
    const auto& m = line.moments[e];
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
UnexcitedLine leftover(const Line& line, const std::vector<Averaged>& averaged, double hz, double scale,
                       const Response& response) {
  const auto above = std::lower_bound(response.frequency_hz.begin(), response.frequency_hz.end(), hz);
  std::size_t at = static_cast<std::size_t>(above - response.frequency_hz.begin());
  if (at > 0 &&
      (at == response.frequency_hz.size() || hz - response.frequency_hz[at - 1] < response.frequency_hz[at] - hz))
    --at;
  const Complex2x2& g = response.g[at];
  UnexcitedLine left;
  left.hz = hz;
  std::array<double, 2> steady{}, noise{};
  for (std::size_t e = 0; e < line.moments.size(); ++e) {
    const auto& m = line.moments[e];
    const double share = scale * scale / static_cast<double>(line.moments.size());
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
  double strongest = 0;
  for (std::size_t k = 0; k < range.count; ++k)
    strongest = std::max(strongest, math::singular_values(gather(averaged, k).force_power)[0]);
  std::vector<std::size_t> without;
  for (std::size_t k = 0; k < range.count; ++k) {
    const Line line = gather(averaged, k);
    const double hz = static_cast<double>(range.from + k) * response.line_spacing_hz;
    if (excited(line, strongest, options.excited_ratio))
      add_line(line, averaged, hz, response);
    else if (!response.g.empty())
      without.push_back(k);
  }
  for (const std::size_t k : without) {
    const double hz = static_cast<double>(range.from + k) * response.line_spacing_hz;
    if (hz > response.frequency_hz.back()) break;
    response.unexcited.push_back(
        leftover(gather(averaged, k), averaged, hz, 2.0 / static_cast<double>(length), response));
  }
}

}  // namespace

Response measure_periodic(std::span<const Experiment> experiments, const ResponseOptions& options) {
  if (experiments.size() < 2)
    return refuse_response("two recordings are needed, excited in different directions (one on A, one on B)");
  const double samples = options.period_s / options.sample_s;
  const auto length = static_cast<std::size_t>(std::lround(samples));
  if (length < 8) return refuse_response("the excitation's period holds fewer than 8 samples");
  std::vector<ForwardTransform> transforms;
  for (std::size_t c = 0; c < sides; ++c) transforms.emplace_back(length);
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
    averaged.push_back(average(e, length, range, transforms, options));
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
