#include "signal/line_sums.h"

#include <algorithm>

#include "base/check.h"

namespace evenbeam::signal {
LineSums::LineSums(std::size_t channels, std::size_t lines, bool shift_by_first)
    : channels_(channels),
      lines_(lines),
      shift_(shift_by_first),
      first_(2 * channels * lines, 0.0),
      sum_(2 * channels * lines, 0.0),
      product_(channels * channels * lines, 0.0) {
  base::check(channels >= 1 && channels <= most_channels, "line sums: channels", {double(channels)});
}

void LineSums::add(std::span<const std::span<const math::Complex>> spectra) {
  base::check(spectra.size() == channels_, "line sums: channels of a block agree");
  for (const auto& spectrum : spectra) base::check(spectrum.size() == lines_, "line sums: lines of a block agree");
  if (++blocks_ == 1 && shift_) {
    for (std::size_t i = 0; i < channels_; ++i)
      for (std::size_t k = 0; k < lines_; ++k) {
        row(first_, 2 * i)[k] = spectra[i][k].real();
        row(first_, 2 * i + 1)[k] = spectra[i][k].imag();
      }
    return;
  }
  constexpr std::size_t chunk = 256;  // stays in the first-level cache
  std::array<std::array<double, chunk>, 2 * most_channels> z;
  for (std::size_t from = 0; from < lines_; from += chunk) {
    const std::size_t count = std::min(chunk, lines_ - from);
    for (std::size_t i = 0; i < channels_; ++i) {
      const double *first_re = row(first_, 2 * i) + from, *first_im = row(first_, 2 * i + 1) + from;
      double *re = row(sum_, 2 * i) + from, *im = row(sum_, 2 * i + 1) + from, *power = row(product_, i) + from;
      for (std::size_t k = 0; k < count; ++k) {
        const double x = spectra[i][from + k].real() - first_re[k], y = spectra[i][from + k].imag() - first_im[k];
        z[2 * i][k] = x;
        z[2 * i + 1][k] = y;
        re[k] += x;
        im[k] += y;
        power[k] += x * x + y * y;
      }
    }
    for (std::size_t i = 0; i < channels_; ++i)
      for (std::size_t j = i + 1; j < channels_; ++j) {
        double *re = row(product_, pair_row(i, j)) + from, *im = row(product_, pair_row(i, j) + 1) + from;
        const auto &xi = z[2 * i], &yi = z[2 * i + 1], &xj = z[2 * j], &yj = z[2 * j + 1];
        for (std::size_t k = 0; k < count; ++k) {
          re[k] += xi[k] * xj[k] + yi[k] * yj[k];
          im[k] += yi[k] * xj[k] - xi[k] * yj[k];
        }
      }
  }
}

math::Complex LineSums::product(std::size_t line, std::size_t i, std::size_t j) const {
  base::check(!shift_ && blocks_ > 0, "line sums: plain products need blocks added unshifted");
  const double count = static_cast<double>(blocks_);
  if (i == j) return row(product_, i)[line] / count;
  const std::size_t at = i < j ? pair_row(i, j) : pair_row(j, i);
  const math::Complex value(row(product_, at)[line] / count, row(product_, at + 1)[line] / count);
  return i < j ? value : std::conj(value);
}

math::Complex LineSums::mean(std::size_t line, std::size_t i) const {
  const double count = static_cast<double>(blocks_);
  return {row(first_, 2 * i)[line] + row(sum_, 2 * i)[line] / count,
          row(first_, 2 * i + 1)[line] + row(sum_, 2 * i + 1)[line] / count};
}

double LineSums::variance(std::size_t line, std::size_t i) const {
  const double count = static_cast<double>(blocks_);
  const double re = row(sum_, 2 * i)[line], im = row(sum_, 2 * i + 1)[line];
  return (row(product_, i)[line] - (re * re + im * im) / count) / (count - 1);
}

LineMoments LineSums::moments(std::size_t line) const {
  base::check(shift_ && blocks_ > 1 && channels_ >= 4, "line sums: moments need two blocks of four channels");
  const double count = static_cast<double>(blocks_);
  LineMoments m;
  std::array<math::Complex, 4> sum;
  for (std::size_t i = 0; i < 4; ++i) {
    m.mean[i] = mean(line, i);
    sum[i] = {row(sum_, 2 * i)[line], row(sum_, 2 * i + 1)[line]};
  }
  for (std::size_t i = 0; i < 4; ++i) {
    m.covariance[i][i] = variance(line, i);
    for (std::size_t j = i + 1; j < 4; ++j) {
      const std::size_t at = pair_row(i, j);
      const math::Complex products(row(product_, at)[line], row(product_, at + 1)[line]);
      m.covariance[i][j] = (products - math::times(sum[i], std::conj(sum[j])) / count) / (count - 1);
      m.covariance[j][i] = std::conj(m.covariance[i][j]);
    }
  }
  return m;
}

}  // namespace evenbeam::signal
