#include "homing/marks_drift.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "math/student.h"

namespace evenbeam::homing {
namespace {

constexpr double least_apart_k = 2;  // less tells nothing (common practice, no source)

struct Point {
  double kelvin = 0, b_minus_a_m = 0, sd_m = 0;
};

std::vector<Point> points_of(const std::vector<SearchRun>& runs,
                             const std::vector<recording::Recording>& recordings) {
  std::vector<Point> out;
  for (const SearchRun& run : runs)
    for (const recording::Recording& r : recordings)
      if (r.name == run.name && r.temperature_k && run.b_minus_a_m && !run.left_out)
        out.push_back({*r.temperature_k, run.b_minus_a_m->value, run.b_minus_a_m->sd});
  return out;
}

}  // namespace

MarksDrift marks_drift(const std::vector<SearchRun>& runs, const std::vector<recording::Recording>& recordings) {
  MarksDrift out;
  const std::vector<Point> p = points_of(runs, recordings);
  out.runs = static_cast<int>(p.size());
  if (p.empty()) return out;
  const auto [low, high] =
      std::minmax_element(p.begin(), p.end(), [](const Point& a, const Point& b) { return a.kelvin < b.kelvin; });
  out.from_k = low->kelvin, out.to_k = high->kelvin;
  if (p.size() < 3 || out.to_k - out.from_k < least_apart_k) {
    out.reason = fmt::format("{} searches with a temperature, {:.2g} K apart", p.size(), out.to_k - out.from_k);
    return out;
  }
  const double n = static_cast<double>(p.size());
  double middle_k = 0, middle_m = 0, doubt = 0;
  for (const Point& q : p) middle_k += q.kelvin / n, middle_m += q.b_minus_a_m / n, doubt += q.sd_m * q.sd_m / n;
  double spread = 0, slope = 0, left = 0;
  for (const Point& q : p) {
    const double dk = q.kelvin - middle_k;
    spread += dk * dk, slope += dk * (q.b_minus_a_m - middle_m);
  }
  slope /= spread;
  for (const Point& q : p) left += std::pow(q.b_minus_a_m - middle_m - slope * (q.kelvin - middle_k), 2);
  const double sd = std::sqrt(std::max(left / (n - 2), doubt) / spread);
  out.per_k = math::with_sd(slope, sd, 1, math::student_quantile(0.975, n - 2));
  out.known = true;
  return out;
}

SearchAgain search_again(const MarksDrift& d, double band_m) {
  const double seen_k = d.to_k - d.from_k, largest = std::max(std::abs(d.per_k.lower), std::abs(d.per_k.upper));
  SearchAgain out{.after_k = largest > 0 ? std::min(seen_k, band_m / largest) : seen_k};
  out.within_seen = !(out.after_k < seen_k);
  if (std::abs(d.per_k.value) > 0) out.likely_k = band_m / std::abs(d.per_k.value);
  return out;
}

std::optional<base::Finding> drift_finding(const MarksDrift& d, double band_m, const std::string& band_from) {
  if (d.runs == 0) return std::nullopt;
  base::Finding f{.id = "search_again", .unit = "K"};
  if (!d.known) {
    f.text = fmt::format("When to search again as it warms is not known: {}.", d.reason);
    f.next =
        "Search five times cold and five times warm, 5 K apart or more, and state temperature in recordings.toml.";
    return f;
  }
  const SearchAgain again = search_again(d, band_m);
  const bool moves = d.per_k.lower > 0 || d.per_k.upper < 0;
  f.verdict = base::Verdict::pass;
  f.value = again.likely_k, f.lower = again.after_k;
  f.limit = d.to_k - d.from_k;
  f.source = fmt::format("least squares over {} searches; {:.3g} um allowed: {}", d.runs, 1e6 * band_m, band_from);
  f.text = fmt::format(
      "The marks' difference moves by {:.3g} um a kelvin ({:.3g} to {:.3g}, {} searches from {:.3g} to "
      "{:.3g} degC){}",
      1e6 * d.per_k.value, 1e6 * d.per_k.lower, 1e6 * d.per_k.upper, d.runs, d.from_k - 273.15, d.to_k - 273.15,
      again.within_seen ? std::string("; no new search is needed over what was seen.")
      : moves           ? fmt::format(": search again after {:.2g} K.", again.after_k)
              : fmt::format(", which may be none; {:.2g} K are promised without a new search.", again.after_k));
  if (again.likely_k && *again.likely_k < d.to_k - d.from_k && moves) {
    f.verdict = base::Verdict::attention;
    f.next = fmt::format("Warm up before the search, or search again whenever the machine has changed by {:.2g} K.",
                         again.after_k);
  }
  return f;
}

}  // namespace evenbeam::homing
