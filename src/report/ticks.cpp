#include "report/ticks.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

struct Step {
  int mantissa = 1, exponent = 0;  // mantissa 10^exponent
};

Step round_step(double rough) {
  const int exponent = static_cast<int>(std::floor(std::log10(rough)));
  const double scaled = rough / std::pow(10.0, exponent);
  if (scaled <= 1) return {1, exponent};
  if (scaled <= 2) return {2, exponent};
  if (scaled <= 5) return {5, exponent};
  return {1, exponent + 1};
}

double times_power_of_ten(double count, int exponent) {
  return exponent < 0 ? count / std::pow(10.0, -exponent) : count * std::pow(10.0, exponent);
}

// Beyond five decimals or six digits the labels are written in thousands, millions or thousandths.
int label_power(double largest, int step_exponent) {
  if (largest < 1e6 && step_exponent >= -5) return 0;
  return 3 * static_cast<int>(std::floor(std::log10(largest) / 3));
}

std::string decade_label(double value, int exponent) {
  if (exponent >= -3 && exponent <= 4) return fmt::format("{:.{}f}", value, std::max(0, -exponent));
  const double mantissa = std::round(value / std::pow(10.0, exponent));
  return mantissa == 1 ? "10" + superscript(exponent) : fmt::format("{:.0f}·10{}", mantissa, superscript(exponent));
}

}  // namespace

Ticks linear_ticks(double lo, double hi, int wanted) {
  base::check(std::isfinite(lo) && std::isfinite(hi) && lo < hi, "an axis has two finite, different ends", {lo, hi});
  const Step step = round_step((hi - lo) / std::max(1, wanted));
  const double size = times_power_of_ten(step.mantissa, step.exponent);
  const double slack = 1e-9;  // of a step: an end that is round itself keeps its tick
  Ticks out;
  out.power = label_power(std::max(std::abs(lo), std::abs(hi)), step.exponent);
  const auto first = static_cast<long long>(std::ceil(lo / size - slack));
  const auto last = static_cast<long long>(std::floor(hi / size + slack));
  const int decimals = std::max(0, out.power - step.exponent);
  for (long long k = first; k <= last; ++k) {
    const double count = static_cast<double>(k * step.mantissa);
    const double shown = times_power_of_ten(count, step.exponent - out.power);
    std::string label = fmt::format("{:.{}f}", shown, decimals);
    if (label[0] == '-') label = "−" + label.substr(1);
    out.ticks.push_back({times_power_of_ten(count, step.exponent), label});
  }
  return out;
}

Ticks log_ticks(double lo, double hi, int wanted) {
  base::check(std::isfinite(hi) && lo > 0 && lo < hi, "a logarithmic axis has two positive, different ends",
              {lo, hi});
  const double decades = std::log10(hi / lo);
  if (decades < 0.7) return linear_ticks(lo, hi, wanted);
  const int stride = std::max(1, static_cast<int>(std::ceil(decades / std::max(1, wanted))));
  const double slack = 1e-9;
  Ticks out;
  const int first = static_cast<int>(std::floor(std::log10(lo) - slack));
  const int last = static_cast<int>(std::ceil(std::log10(hi) + slack));
  for (int exponent = first; exponent <= last; ++exponent) {
    for (int mantissa = 1; mantissa < 10; ++mantissa) {
      const double at = times_power_of_ten(mantissa, exponent);
      if (at < lo * (1 - slack) || at > hi * (1 + slack)) continue;
      const bool decade = mantissa == 1 && exponent % stride == 0;
      const bool between = (mantissa == 2 || mantissa == 5) && decades < 0.5 * wanted && decades < 2.5;
      if (stride > 1 && !decade && mantissa != 1) continue;
      out.ticks.push_back({at, decade || between ? decade_label(at, exponent) : ""});
    }
  }
  return out;
}

}  // namespace evenbeam::report
