#pragma once
// Inner part of frequency_response: sums over periods (or segments) of all channels at every line kept.
//   shifted sums s_i = sum (z_i - z0_i), products p_ij = sum (z_i - z0_i) conj(z_j - z0_j), z0 the first block, so
//   that the variance of a steady line does not drown in its mean. The first four channels are x_A, x_B, F_A, F_B;
//   two
// references may follow.
#include <array>
#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "math/complex2x2.h"

namespace evenbeam::signal {

inline constexpr std::size_t most_channels = 6;

// Of the first four channels.
struct LineMoments {
  std::array<math::Complex, 4> mean{};
  std::array<std::array<math::Complex, 4>, 4> covariance{};  // of one block, divided by blocks - 1
};

// Keeps its arrays and counts in step. Structure of arrays, so that the loop over lines runs fast.
class LineSums {
 public:
  LineSums(std::size_t channels, std::size_t lines, bool shift_by_first);
  // Adds one block: a spectrum of lines() values for each channel.
  void add(std::span<const std::span<const math::Complex>> spectra);
  std::size_t blocks() const { return blocks_; }
  std::size_t lines() const { return lines_; }
  math::Complex mean(std::size_t line, std::size_t i) const;  // shifted only, like the next two
  double variance(std::size_t line, std::size_t i) const;     // needs two blocks or more
  LineMoments moments(std::size_t line) const;                // needs two blocks or more
  math::Complex product(std::size_t line, std::size_t i,
                        std::size_t j) const;  // mean of z_i conj(z_j), unshifted only

 private:
  double* row(std::vector<double>& store, std::size_t index) { return store.data() + index * lines_; }
  const double* row(const std::vector<double>& store, std::size_t index) const {
    return store.data() + index * lines_;
  }
  // Row of product_ that holds the real part of pair i < j; the imaginary part follows.
  std::size_t pair_row(std::size_t i, std::size_t j) const {
    return channels_ + i * (2 * channels_ - i - 1) + 2 * (j - i - 1);
  }
  std::size_t channels_, lines_, blocks_ = 0;
  bool shift_;
  std::vector<double> first_, sum_;  // re, im of each channel
  std::vector<double> product_;      // powers of the channels, then re, im of the pairs
};

}  // namespace evenbeam::signal
