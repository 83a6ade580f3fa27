#include "trajectory/excitation.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <random>

#include "base/check.h"
#include "base/input_error.h"

namespace evenbeam::trajectory {

using std::numbers::pi;

std::vector<double> pulses(const std::vector<double>& levels_n, double push_s, double rest_s, double period_s) {
  base::check(period_s > 0 && push_s >= 0 && rest_s >= 0, "lengths >= 0", {push_s, rest_s, period_s});
  const auto count = [&](double length) { return static_cast<size_t>(std::llround(length / period_s)); };
  std::vector<double> out(count(rest_s), 0.0);
  for (double level : levels_n) {
    out.insert(out.end(), count(push_s), level);
    out.insert(out.end(), count(rest_s), 0.0);
  }
  return out;
}

std::vector<double> chirp(const Chirp& c, double period_s) {
  base::check(period_s > 0 && c.length_s > 0 && c.fade >= 0 && c.fade <= 0.5, "chirp",
              {period_s, c.length_s, c.fade});
  if (!(std::max(c.low_hz, c.high_hz) * period_s < 0.5))
    throw base::InputError({"chirp", 0, 0, fmt::format("{} Hz", std::max(c.low_hz, c.high_hz)),
                            fmt::format("below half the sampling rate, {} Hz", 0.5 / period_s),
                            "Lower the frequency"});
  const auto n = static_cast<size_t>(std::llround(c.length_s / period_s));
  std::vector<double> out(n);
  for (size_t k = 0; k < n; ++k) {
    const double t = k * period_s, part = t / c.length_s;
    const double edge = std::min({1.0, c.fade > 0 ? part / c.fade : 1.0, c.fade > 0 ? (1 - part) / c.fade : 1.0});
    const double window = 0.5 - 0.5 * std::cos(pi * edge);
    out[k] = c.level_n * window * std::sin(2 * pi * (c.low_hz * t + (c.high_hz - c.low_hz) * t * part / 2));
  }
  return out;
}

namespace {

void check_multisine(const Multisine& m, double period_s) {
  std::vector<base::Trouble> troubles;
  const auto refuse = [&](const std::string& found, const std::string& rule, const std::string& next) {
    troubles.push_back({"multisine", 0, 0, found, rule, next});
  };
  if (!(period_s > 0) || !(m.repeat_s > 0))
    refuse("a length <= 0", "positive lengths", "State period and repetition");
  else if (const double n = m.repeat_s / period_s; std::abs(n - std::round(n)) > 1e-6 * n)
    refuse(fmt::format("a repetition of {} periods", n), "a whole number of servo periods", "Change repeat_s");
  if (!(m.low_hz > 0) || !(m.high_hz >= m.low_hz) || !(m.high_hz * period_s < 0.5))
    refuse(fmt::format("{} to {} Hz", m.low_hz, m.high_hz), "0 < low <= high < half the sampling rate",
           "Change the band");
  if (m.every < 1 || m.draws < 1) refuse("every or draws below 1", "at least 1", "Correct them");
  if (!troubles.empty()) throw base::InputError(std::move(troubles));
}

// Sum of cosines by rotating each line's phasor; restarted every 256 samples so that rounding does not add up.
std::vector<double> sum_of(const std::vector<double>& line_hz, const std::vector<double>& phase, size_t n,
                           double period_s) {
  std::vector<double> out(n, 0.0);
  for (size_t i = 0; i < line_hz.size(); ++i) {
    const double w = 2 * pi * line_hz[i] * period_s, turn_c = std::cos(w), turn_s = std::sin(w);
    for (size_t start = 0; start < n; start += 256) {
      double c = std::cos(w * start + phase[i]), s = std::sin(w * start + phase[i]);
      for (size_t k = start; k < std::min(n, start + 256); ++k) {
        out[k] += c;
        const double next = c * turn_c - s * turn_s;
        s = s * turn_c + c * turn_s, c = next;
      }
    }
  }
  return out;
}

}  // namespace

MultisineSignal multisine(const Multisine& m, double period_s) {
  check_multisine(m, period_s);
  MultisineSignal out;
  const auto first = static_cast<long>(std::ceil(m.low_hz * m.repeat_s * (1 - 1e-12)));
  const auto last = static_cast<long>(std::floor(m.high_hz * m.repeat_s * (1 + 1e-12)));
  const long begin = m.every == 2 && first % 2 == 0 ? first + 1 : first;
  for (long line = begin; line <= last; line += m.every) out.line_hz.push_back(line / m.repeat_s);
  if (out.line_hz.empty())
    throw base::InputError({"multisine", 0, 0, "a band without a line", "lines at multiples of 1/repeat_s",
                            "Lengthen repeat_s or widen the band"});
  const auto n = static_cast<size_t>(std::llround(m.repeat_s / period_s));
  std::mt19937_64 draw(m.seed);
  double best_peak = std::numeric_limits<double>::infinity();
  for (int i = 0; i < m.draws; ++i) {
    std::vector<double> phase(out.line_hz.size());
    for (double& p : phase) p = 2 * pi * static_cast<double>(draw() >> 11) / 9007199254740992.0;
    auto trial = sum_of(out.line_hz, phase, n, period_s);
    double peak = 0;
    for (double value : trial) peak = std::max(peak, std::abs(value));
    if (peak < best_peak) best_peak = peak, out.one_repeat_n = std::move(trial);
  }
  double square = 0;
  for (double& value : out.one_repeat_n) value *= m.level_n / best_peak, square += value * value;
  out.crest_factor = std::abs(m.level_n) / std::sqrt(square / double(n));
  return out;
}

}  // namespace evenbeam::trajectory
