#include "tuning/proposal_reasons.h"

#include <fmt/format.h>

#include <algorithm>

namespace evenbeam::tuning {

std::string none_meets(double promised, const std::optional<Nearest>& nearest) {
  const std::string text =
      fmt::format("no gains of this rule meet a peak sensitivity of {:.2f} at every carriage place", promised);
  if (!nearest) return text + "; none of them is stable everywhere with gains times 0.6 and 1.6";
  return text +
         fmt::format(
             "; the nearest, both loops stretched {:.1f} times over a lag of {:.2f} ms, reach {:.2f} at {:.1f} Hz",
             nearest->stretch, 1e3 * nearest->lag_s, nearest->worst.peak, nearest->worst.at_hz);
}

// Which of what was asked holds the gains down, with the settings found.
std::string binding_of(const Proposal& p, double noise_limit_n, double measured_y_m) {
  const bool measured = p.measured.peak > p.worst.peak;
  const PeakSensitivity& limiting = measured ? p.measured : p.worst;
  std::string text = fmt::format("peak sensitivity {:.2f} at {:.1f} Hz", limiting.peak, limiting.at_hz);
  if (measured) {
    text += fmt::format(" on the measured response (carriage at {:.2f} m)", measured_y_m);
  } else {
    const auto worst = std::max_element(p.cases.begin(), p.cases.end(), [](const auto& x, const auto& y) {
      return x.sensitivity.peak < y.sensitivity.peak;
    });
    text += fmt::format(" on the fitted model, carriage at {:.2f} m with {:.3g} kg", worst->where.carriage_y_m,
                        worst->where.payload_kg);
  }
  constexpr double kNear = 0.9;
  if (p.searched && p.after.noise_n > kNear * noise_limit_n)
    text += fmt::format(", and noise from counts ({:.1f} of {:.1f} N)", p.after.noise_n, noise_limit_n);
  for (const auto& gain : {p.unstable_below, p.unstable_above})
    if (gain)
      text += fmt::format(", and stability (both loops' gains times {:.2f} would be unstable at a place)", *gain);
  return text;
}

}  // namespace evenbeam::tuning
