#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "signal/fft.h"
#include "signal/line_sums.h"
#include "signal/response_routes.h"

namespace evenbeam::signal {
namespace {

using math::Complex;
using math::Complex2x2;

std::vector<double> hann(std::size_t length) {
  std::vector<double> window(length);
  for (std::size_t i = 0; i < length; ++i)
    window[i] = 0.5 - 0.5 * std::cos(2 * std::numbers::pi * static_cast<double>(i) / static_cast<double>(length));
  return window;
}

// One segment less its mean or least-squares ramp, windowed. False where a sample is missing.
bool place(std::span<const double> samples, Detrend detrend, const std::vector<double>& window,
           std::span<double> to) {
  const double n = static_cast<double>(samples.size()), middle = (n - 1) / 2;
  // Four running sums each: quicker, and still in a fixed order.
  std::array<double, 4> sums{}, moments{};
  for (std::size_t i = 0; i < samples.size(); ++i) {
    sums[i % 4] += samples[i];
    moments[i % 4] += samples[i] * (static_cast<double>(i) - middle);
  }
  const double sum = sums[0] + sums[1] + sums[2] + sums[3],
               moment = moments[0] + moments[1] + moments[2] + moments[3];
  if (!std::isfinite(sum)) return false;
  const double mean = detrend == Detrend::none ? 0.0 : sum / n;
  const double slope = detrend == Detrend::ramp ? moment / (n * (n * n - 1) / 12) : 0.0;
  for (std::size_t i = 0; i < samples.size(); ++i)
    to[i] = window[i] * (samples[i] - mean - slope * (static_cast<double>(i) - middle));
  return true;
}

void add_segments(const Experiment& e, std::size_t channels, const LineRange& range, const ResponseOptions& options,
                  const std::vector<double>& window, ForwardTransform& transform, LineSums& sums) {
  const std::array<std::span<const double>, 6> signals = {e.position_a_m, e.position_b_m, e.force_a_n,
                                                          e.force_b_n,    e.reference_a,  e.reference_b};
  const std::size_t length = window.size();
  std::vector<std::span<const Complex>> spectra(channels);
  for (std::size_t at = 0; at + length <= e.position_a_m.size(); at += length - length / 2) {
    bool whole = true;
    for (std::size_t c = 0; c < channels && whole; ++c) {
      whole = place(signals[c].subspan(at, length), options.detrend, window, transform.input(c));
      if (!whole) break;
      transform.run(c);
      spectra[c] = transform.lines(c).subspan(range.from, range.count);
    }
    if (whole) sums.add(spectra);
  }
}

// Independent segments that half-overlapped Hann segments are worth: neighbours share (1/6)^2 of their power
// (Welch 1967).
double independent_segments(std::size_t segments) {
  const double count = static_cast<double>(segments);
  return count / (1 + 2 * (1 - 1 / count) / 36);
}

Complex2x2 block(const LineSums& sums, std::size_t k, std::size_t i, std::size_t j) {
  return {sums.product(k, i, j), sums.product(k, i, j + 1), sums.product(k, i + 1, j), sums.product(k, i + 1, j + 1)};
}

void add_line(const LineSums& sums, std::size_t k, std::size_t instrument, double hz, Response& response) {
  const Complex2x2 ur = block(sums, k, 2, instrument), yr = block(sums, k, 0, instrument);
  const Complex2x2 rr = block(sums, k, instrument, instrument);
  // The forces answer in two directions, or this line tells nothing: rounding stands at 1e-16 of the powers.
  const auto s = math::singular_values(ur);
  if (!(s[1] > 1e-10 * s[0])) return;
  const Complex2x2 ur_inverse = math::inverse(ur);
  const Complex2x2 g = yr * ur_inverse;
  Complex2x2 noise = unexplained(g, [&](std::size_t i, std::size_t j) { return sums.product(k, i, j); });
  const double power_a = sums.product(k, 0, 0).real(), power_b = sums.product(k, 1, 1).real();
  const double averages = independent_segments(sums.blocks());
  noise = math::scaled(noise, 1 / std::max(averages - 2, 0.5));  // two complex coefficients fitted per output
  // excitation(j, l) = sum T(m, j) conj(S_rr(m, m')) conj(T(m', l)), T = S_ur^-1.
  const Complex2x2 t = ur_inverse;
  const Complex2x2 transposed = {t.aa, t.ba, t.ab, t.bb};
  const Complex2x2 rr_conjugate = {std::conj(rr.aa), std::conj(rr.ab), std::conj(rr.ba), std::conj(rr.bb)};
  ResponseCovariance covariance{};
  add_covariance(covariance, noise, transposed * rr_conjugate * math::adjoint(transposed));
  const double left_a = noise.aa.real() * std::max(averages - 2, 0.5);
  const double left_b = noise.bb.real() * std::max(averages - 2, 0.5);
  response.frequency_hz.push_back(hz);
  response.g.push_back(g);
  response.covariance.push_back(covariance);
  response.coherence.push_back(
      {std::clamp(1 - left_a / power_a, 0.0, 1.0), std::clamp(1 - left_b / power_b, 0.0, 1.0)});
}

}  // namespace

Response measure_welch(std::span<const Experiment> experiments, const ResponseOptions& options) {
  const auto length = static_cast<std::size_t>(std::lround(options.segment_s / options.sample_s));
  if (length < 8) return refuse_response("the segment holds fewer than 8 samples");
  const LineRange range = line_range(length, options);
  if (range.count == 0) return refuse_response("no line between the two frequencies asked for");
  bool references = true;
  for (const auto& e : experiments) references = references && !e.reference_a.empty();
  const std::size_t channels = references ? 6 : 4;
  ForwardTransform transform(length, channels);
  LineSums sums(channels, range.count, false);
  const std::vector<double> window = hann(length);
  for (const auto& e : experiments) add_segments(e, channels, range, options, window, transform, sums);
  // Two forces explain any two segments exactly; the rest tells the noise.
  if (sums.blocks() < 6)
    return refuse_response(
        fmt::format("{} segments of {} s without gaps; six are needed", sums.blocks(), options.segment_s));
  Response response;
  response.averages = sums.blocks();
  response.skipped_periods.assign(experiments.size(), 0);
  response.line_spacing_hz = 1 / (static_cast<double>(length) * options.sample_s);
  response.closed_loop_safe = references;
  if (!references) response.reason = "right with the loops open; with the loops closed, feedback of noise biases it";
  for (std::size_t k = 0; k < range.count; ++k)
    add_line(sums, k, references ? 4 : 2, static_cast<double>(range.from + k) * response.line_spacing_hz, response);
  if (response.g.empty())
    return refuse_response("the forces push in one direction only: the two sides' answers cannot be told apart");
  response.state = ResponseState::done;
  return response;
}

}  // namespace evenbeam::signal
