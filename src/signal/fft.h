#pragma once
// Discrete Fourier transform of real samples, any length (prime lengths too):
//   X_k = sum_n x_n exp(-2 pi i k n / N),  k = 0 .. N/2;   back: x_n = (1/N) sum_k X_k exp(+2 pi i k n / N).
// Energy: sum x_n^2 = (1/N) (|X_0|^2 + 2 sum |X_k|^2 [+ |X_N/2|^2 once, N even]).
// FFTW behind a small interface: plans by estimate (a measured plan never pays back for one job), one lock around its
// planner; the transforms themselves need none.
#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace evenbeam::signal {

// One length, forward, planned once and run often, with as many channels of own aligned memory as asked for: fill
// input(c), run(c), read lines(c).
class ForwardTransform {
 public:
  explicit ForwardTransform(std::size_t length, std::size_t channels = 1);
  ~ForwardTransform();
  ForwardTransform(ForwardTransform&&) noexcept;
  ForwardTransform& operator=(ForwardTransform&&) noexcept;
  std::span<double> input(std::size_t channel = 0);
  void run(std::size_t channel = 0);                                           // keeps input() as it is
  std::span<const std::complex<double>> lines(std::size_t channel = 0) const;  // length/2 + 1

 private:
  struct Plan;
  std::unique_ptr<Plan> plan_;
};

std::vector<std::complex<double>> forward_transform(std::span<const double> samples);
// `length` tells even from odd: lines.size() must be length/2 + 1.
std::vector<double> inverse_transform(std::span<const std::complex<double>> lines, std::size_t length);

}  // namespace evenbeam::signal
