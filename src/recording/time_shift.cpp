#include "recording/time_shift.h"

#include <fmt/format.h>

#include <cmath>
#include <limits>

namespace evenbeam::recording {
namespace {

// position_b(t - late): linear between samples; NaN where a neighbour is missing. The first or last samples, for
// which there is none, become NaN.
std::vector<double> moved(const std::vector<double>& x, double late_s, double period_s) {
  std::vector<double> at_a(x.size(), std::numeric_limits<double>::quiet_NaN());
  for (std::size_t k = 0; k < x.size(); ++k) {
    const double place = static_cast<double>(k) - late_s / period_s;
    const double below = std::floor(place);
    const double part = place - below;
    if (below < 0 || below + (part > 0 ? 1 : 0) > static_cast<double>(x.size() - 1)) continue;
    const auto i = static_cast<std::size_t>(below);
    at_a[k] = part > 0 ? x[i] + part * (x[i + 1] - x[i]) : x[i];
  }
  return at_a;
}

void remove_shift(Recording& r, double late_s) {
  r.position_b_m = moved(r.position_b_m, late_s, r.period_s);
  r.b_late_s = late_s;
}

}  // namespace

void settle_time_shift(Recording& r, const std::optional<double>& stated_s) {
  if (!has_positions(r) || !stated_s || *stated_s == 0) return;
  remove_shift(r, *stated_s);
  base::Finding f;
  f.id = "import_time_shift";
  f.verdict = base::Verdict::pass;
  f.text = fmt::format("B's position was moved by {:.4g} ms, the shift stated in recordings.toml.", 1e3 * *stated_s);
  f.value = *stated_s;
  f.unit = "s";
  f.source = "recordings.toml";
  f.recording = r.name;
  r.findings.push_back(f);
}

}  // namespace evenbeam::recording
