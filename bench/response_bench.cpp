// Row W2: 2x2 frequency response of two 16 s captures of four channels at 5 kHz (2 s period, lines 2 to 700 Hz),
// against the bare FFTW transforms of the same 64 periods in the same run, and against a capture twenty times longer.
// Prints processor times and ratios; each figure is the best of many, since the machine may be shared.
#include <fftw3.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include "best_time.h"
#include "goal.h"
#include "math/random.h"
#include "signal/fft.h"
#include "signal/frequency_response.h"

using namespace evenbeam;
using bench::best_ms;

namespace {

constexpr std::size_t period = 10000;
constexpr double sample_s = 0.0002;

struct Capture {
  std::vector<double> channel[4];
  signal::Experiment view() const { return {channel[0], channel[1], channel[2], channel[3], {}, {}}; }
};

Capture make_capture(int side, std::size_t periods, math::Random& random) {
  Capture capture;
  std::vector<double> tone(period, 0.0);
  for (std::size_t k = 6; k < 1400; k += 1 + k / 20) {
    const double phase = random.uniform(0, 2 * std::numbers::pi);
    for (std::size_t n = 0; n < period; ++n)
      tone[n] += std::cos(2 * std::numbers::pi * static_cast<double>(k * n % period) / period + phase);
  }
  double x[2] = {0, 0};
  for (std::size_t n = 0; n < periods * period; ++n) {
    const double f[2] = {side == 0 ? tone[n % period] : 0.1 * random.normal(),
                         side == 1 ? tone[n % period] : 0.1 * random.normal()};
    for (int i = 0; i < 2; ++i) {
      x[i] = 0.9 * x[i] + 0.05 * x[1 - i] + 1e-6 * f[i];
      capture.channel[i].push_back(x[i] + 1e-6 * static_cast<double>(n));
      capture.channel[2 + i].push_back(f[i]);
    }
  }
  return capture;
}

double bare_transforms_ms(const std::vector<Capture>& captures, int times) {
  double* in = fftw_alloc_real(period);
  fftw_complex* out = fftw_alloc_complex(period / 2 + 1);
  const fftw_plan plan = fftw_plan_dft_r2c_1d(period, in, out, FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
  const double time = best_ms(times, [&] {
    for (const auto& capture : captures)
      for (const auto& channel : capture.channel)
        for (std::size_t at = 0; at + period <= channel.size(); at += period) {
          std::copy_n(channel.begin() + static_cast<std::ptrdiff_t>(at), period, in);
          fftw_execute(plan);
        }
  });
  fftw_destroy_plan(plan);
  fftw_free(in);
  fftw_free(out);
  return time;
}

double response_ms(const std::vector<Capture>& captures, int times, double period_s) {
  signal::ResponseOptions options;
  options.sample_s = sample_s;
  options.period_s = period_s;
  options.segment_s = 2;
  options.from_hz = 2;
  options.to_hz = 700;
  const std::vector<signal::Experiment> experiments = {captures[0].view(), captures[1].view()};
  std::size_t lines = 0;
  const double time = best_ms(times, [&] { lines = signal::measure_response(experiments, options).g.size(); });
  if (lines == 0) fmt::print("no lines measured, the figure is worthless\n");
  return time;
}

}  // namespace

int main() {
  math::Random random(1);
  const std::vector<Capture> captures = {make_capture(0, 8, random), make_capture(1, 8, random)};
  const double bare = bare_transforms_ms(captures, 50), ours = response_ms(captures, 50, 2.0);
  const double planning = best_ms(20, [] { signal::ForwardTransform(period, 4); });
  fmt::print("W2 bare transforms      {:8.2f} ms; planning and memory for them {:.2f} ms\n", bare, planning);
  fmt::print(
      "W2 periodic 2x2 response{:8.2f} ms, {:.2f} times the bare transforms, {:.2f} without planning (goal 1.5)\n",
      ours, ours / bare, (ours - planning) / bare);
  const double welch = response_ms(captures, 20, 0);
  fmt::print("W2 Welch 2x2 response   {:8.2f} ms (half overlap: nearly twice as many transforms), {:.2f} times\n",
             welch, welch / bare);
  const std::vector<Capture> longer = {make_capture(0, 160, random), make_capture(1, 160, random)};
  const double long_ms = response_ms(longer, 5, 2.0);
  const double long_bare = bare_transforms_ms(longer, 5);
  fmt::print("W2 twenty times longer  {:8.2f} ms, {:.2f} times its bare transforms, time a sample {:.2f} times\n",
             long_ms, long_ms / long_bare, long_ms / 20 / ours);
  using evenbeam::bench::Goal;
  using evenbeam::bench::tell_goal;
  tell_goal("W2", "periodic 2x2 response / bare transforms, time", ours / bare, Goal::at_most, 1.5);
  tell_goal("W2", "20 times longer, time a sample / shorter's", long_ms / 20 / ours, Goal::at_most, 1);
  return 0;
}
