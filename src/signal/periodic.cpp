#include "signal/periodic.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/check.h"
#include "signal/fft.h"

namespace evenbeam::signal {
namespace {

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

// Mean and least-squares ramp out, padded to at least twice the length.
std::vector<double> flattened(std::span<const double> signal) {
  const double n = static_cast<double>(signal.size()), middle = (n - 1) / 2;
  double mean = 0, moment = 0;
  for (std::size_t i = 0; i < signal.size(); ++i) {
    mean += signal[i] / n;
    moment += signal[i] * (static_cast<double>(i) - middle);
  }
  const double slope = moment / (n * (n * n - 1) / 12);
  std::vector<double> out(2 * signal.size(), 0.0);
  for (std::size_t i = 0; i < signal.size(); ++i)
    out[i] = signal[i] - mean - slope * (static_cast<double>(i) - middle);
  return out;
}

// Normalised correlation of the signal with itself `lag` later, for lags up to a third of its length.
std::vector<double> self_correlation(const std::vector<double>& padded) {
  const std::size_t n = padded.size() / 2;
  auto lines = forward_transform(padded);
  for (auto& line : lines) line = std::norm(line);
  auto products = inverse_transform(lines, padded.size());
  std::vector<double> energy(n + 1, 0.0);
  for (std::size_t i = 0; i < n; ++i) energy[i + 1] = energy[i] + padded[i] * padded[i];
  products.resize(n / 3 + 1);
  for (std::size_t lag = 0; lag < products.size(); ++lag) {
    const double both = energy[n - lag] * (energy[n] - energy[lag]);
    products[lag] = both > 0 ? products[lag] / std::sqrt(both) : 0.0;
  }
  return products;
}

}  // namespace

PeriodFound find_period(std::span<const double> signal, double sample_s, double shortest_s,
                        double smallest_correlation) {
  base::check(sample_s > 0, "find period: sample time above 0", {sample_s});
  PeriodFound result;
  const auto shortest = static_cast<std::size_t>(std::ceil(shortest_s / sample_s));
  if (signal.size() < 3 * shortest + 3) {
    result.reason = "shorter than three of the shortest periods looked for";
    return result;
  }
  if (!std::all_of(signal.begin(), signal.end(), [](double x) { return std::isfinite(x); })) {
    result.reason = "the signal has missing samples";
    return result;
  }
  const auto correlation = self_correlation(flattened(signal));
  const auto from = correlation.begin() + static_cast<std::ptrdiff_t>(shortest);
  const double best = *std::max_element(from, correlation.end());
  if (!(best >= smallest_correlation)) {
    result.reason = fmt::format("no lag repeats the signal (best correlation {:.2f})", best);
    return result;
  }
  // The first lag nearly as good as the best, then up to its local top.
  auto at = std::find_if(from, correlation.end(), [&](double c) { return c >= 0.98 * best; });
  while (at + 1 != correlation.end() && *(at + 1) > *at) ++at;
  if (at == from && shortest > 0 && *(at - 1) > *at) {
    result.reason = "the signal is smooth over the shortest period looked for";
    return result;
  }
  result.found = true;
  result.period_s = static_cast<double>(at - correlation.begin()) * sample_s;
  result.correlation = *at;
  return result;
}

std::vector<double> period_means(std::span<const double> signal, std::size_t samples_per_period) {
  base::check(samples_per_period > 0, "period means: a period has samples");
  std::vector<double> means(signal.size() / samples_per_period);
  for (std::size_t p = 0; p < means.size(); ++p) {
    // Four running sums: quicker, and still in a fixed order.
    double sums[4] = {0, 0, 0, 0};
    const double* x = signal.data() + p * samples_per_period;
    std::size_t i = 0;
    for (; i + 4 <= samples_per_period; i += 4)
      for (std::size_t k = 0; k < 4; ++k) sums[k] += x[i + k];
    for (; i < samples_per_period; ++i) sums[0] += x[i];
    means[p] = (sums[0] + sums[1] + sums[2] + sums[3]) / static_cast<double>(samples_per_period);
  }
  return means;
}

std::vector<double> period_drifts(std::span<const double> signal, std::size_t samples_per_period) {
  base::check(samples_per_period > 0, "period drifts: a period has samples");
  const std::size_t n = samples_per_period, width = std::max<std::size_t>(1, n / 100);
  // Mean of x(i + n) - x(i) over i = from .. from + width - 1; NaN where a sample is missing or outside.
  const auto jump = [&](std::size_t from) {
    if (from + width + n > signal.size()) return nan;
    double sum = 0;
    for (std::size_t i = from; i < from + width; ++i) sum += signal[i + n] - signal[i];
    return sum / static_cast<double>(width);
  };
  std::vector<double> drifts(signal.size() / n, nan);
  for (std::size_t p = 0; p < drifts.size(); ++p) {
    double rise = jump(p * n);
    if (!std::isfinite(rise) && p > 0) rise = jump(p * n - width);
    drifts[p] = rise / static_cast<double>(n);
  }
  return drifts;
}

namespace {

// Root mean square of x(t + T) - x(t) over the period at `x`, its mean taken out; about a thousand samples of it.
double change_to_next(const double* x, std::size_t samples_per_period) {
  const std::size_t stride = std::max<std::size_t>(1, samples_per_period / 1000);
  double sum = 0, squares = 0, count = 0;
  for (std::size_t i = 0; i < samples_per_period; i += stride) {
    const double difference = x[i + samples_per_period] - x[i];
    sum += difference;
    squares += difference * difference;
    count += 1;
  }
  return std::sqrt(std::max(squares / count - sum / count * (sum / count), 0.0));
}

}  // namespace

std::size_t transient_periods(std::span<const double> signal, std::size_t samples_per_period) {
  const std::size_t periods = signal.size() / samples_per_period;
  if (periods < 4) return 0;
  const auto change = [&](std::size_t p) {
    return change_to_next(signal.data() + p * samples_per_period, samples_per_period);
  };
  std::vector<double> later;  // nine are enough for a median
  for (std::size_t p = (periods - 1) / 2; p + 1 < periods && later.size() < 9; ++p)
    if (const double c = change(p); std::isfinite(c)) later.push_back(c);
  if (later.empty()) return 0;
  std::nth_element(later.begin(), later.begin() + static_cast<std::ptrdiff_t>(later.size() / 2), later.end());
  const double usual = later[later.size() / 2];
  std::size_t skip = 0;
  while (skip < periods / 2 && change(skip) > 3 * usual) ++skip;
  return skip;
}

PeriodAverage average_periods(std::span<const double> signal, std::size_t samples_per_period, std::size_t skip) {
  const auto means = period_means(signal, samples_per_period);
  PeriodAverage average;
  average.mean.assign(samples_per_period, 0.0);
  std::vector<double> squares(samples_per_period, 0.0);
  for (std::size_t p = skip; p < means.size(); ++p) {
    if (!std::isfinite(means[p])) continue;
    const double* x = signal.data() + p * samples_per_period;
    const double count = static_cast<double>(++average.periods);
    for (std::size_t i = 0; i < samples_per_period; ++i) {
      const double difference = x[i] - average.mean[i];
      average.mean[i] += difference / count;
      squares[i] += difference * (x[i] - average.mean[i]);
    }
  }
  if (average.periods == 0) average.mean.assign(samples_per_period, nan);
  average.sd.assign(samples_per_period, nan);
  if (average.periods > 1)
    for (std::size_t i = 0; i < samples_per_period; ++i)
      average.sd[i] = std::sqrt(squares[i] / static_cast<double>(average.periods - 1));
  return average;
}

}  // namespace evenbeam::signal
