#include "signal/fft.h"

#include <fftw3.h>

#include <algorithm>
#include <mutex>

#include "base/check.h"

namespace evenbeam::signal {
namespace {

// FFTW's planner is one per program and not thread safe; this lock is the only state kept.
std::mutex& planner_lock() {
  static std::mutex lock;
  return lock;
}

struct Free {
  void operator()(void* memory) const { fftw_free(memory); }
};

}  // namespace

struct ForwardTransform::Plan {
  std::size_t length;
  std::vector<std::unique_ptr<double, Free>> samples;
  std::vector<std::unique_ptr<std::complex<double>, Free>> lines;
  fftw_plan plan = nullptr;

  Plan(std::size_t n, std::size_t channels) : length(n) {
    for (std::size_t c = 0; c < channels; ++c) {
      samples.emplace_back(fftw_alloc_real(n));
      lines.emplace_back(reinterpret_cast<std::complex<double>*>(fftw_alloc_complex(n / 2 + 1)));
      std::fill_n(samples[c].get(), n, 0.0);
    }
    const std::scoped_lock hold(planner_lock());
    plan = fftw_plan_dft_r2c_1d(static_cast<int>(n), samples[0].get(), out(0), FFTW_ESTIMATE | FFTW_PRESERVE_INPUT);
    base::check(plan != nullptr, "fft: a plan exists", {double(n)});
  }
  ~Plan() {
    const std::scoped_lock hold(planner_lock());
    fftw_destroy_plan(plan);
  }
  Plan(const Plan&) = delete;
  Plan& operator=(const Plan&) = delete;
  fftw_complex* out(std::size_t channel) { return reinterpret_cast<fftw_complex*>(lines[channel].get()); }
};

ForwardTransform::ForwardTransform(std::size_t length, std::size_t channels) {
  base::check(length > 0 && length < (std::size_t{1} << 30), "fft: length in 1 .. 2^30", {double(length)});
  base::check(channels > 0, "fft: at least one channel");
  plan_ = std::make_unique<Plan>(length, channels);
}

ForwardTransform::~ForwardTransform() = default;
ForwardTransform::ForwardTransform(ForwardTransform&&) noexcept = default;
ForwardTransform& ForwardTransform::operator=(ForwardTransform&&) noexcept = default;

std::span<double> ForwardTransform::input(std::size_t channel) {
  return {plan_->samples[channel].get(), plan_->length};
}
// Every channel's memory is aligned like the first one's, so the one plan serves all.
void ForwardTransform::run(std::size_t channel) {
  fftw_execute_dft_r2c(plan_->plan, plan_->samples[channel].get(), plan_->out(channel));
}
std::span<const std::complex<double>> ForwardTransform::lines(std::size_t channel) const {
  return {plan_->lines[channel].get(), plan_->length / 2 + 1};
}

std::vector<std::complex<double>> forward_transform(std::span<const double> samples) {
  ForwardTransform transform(samples.size());
  std::copy(samples.begin(), samples.end(), transform.input().begin());
  transform.run();
  return {transform.lines().begin(), transform.lines().end()};
}

std::vector<double> inverse_transform(std::span<const std::complex<double>> lines, std::size_t length) {
  base::check(length > 0 && lines.size() == length / 2 + 1, "inverse fft: lines = length/2 + 1",
              {double(lines.size()), double(length)});
  std::vector<std::complex<double>> work(lines.begin(), lines.end());  // FFTW overwrites its input
  std::vector<double> samples(length);
  fftw_plan plan = nullptr;
  {
    const std::scoped_lock hold(planner_lock());
    plan = fftw_plan_dft_c2r_1d(static_cast<int>(length), reinterpret_cast<fftw_complex*>(work.data()),
                                samples.data(), FFTW_ESTIMATE);
  }
  base::check(plan != nullptr, "inverse fft: a plan exists", {double(length)});
  fftw_execute(plan);
  {
    const std::scoped_lock hold(planner_lock());
    fftw_destroy_plan(plan);
  }
  for (double& x : samples) x /= static_cast<double>(length);
  return samples;
}

}  // namespace evenbeam::signal
