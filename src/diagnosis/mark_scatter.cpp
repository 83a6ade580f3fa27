#include "diagnosis/mark_scatter.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>

#include "identification/motion_rows.h"
#include "math/student.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kSure = 0.999;     // of chi-square: one healthy machine in a thousand; a proposal, no source
constexpr double kLeastCounts = 5;  // a scatter below it is nobody's trouble; a proposal, no source

struct Search {
  double b_minus_a_m = 0, own_m = 0;
};

std::string text_of(const base::Row& row, const char* key) {
  for (const auto& [name, cell] : row)
    if (name == key && std::holds_alternative<std::string>(cell)) return std::get<std::string>(cell);
  return "";
}

// Standard uncertainty of one search by itself.
std::optional<double> own_of(const std::string& name, const std::vector<recording::Recording>& recordings,
                             const identification::MotionFit& fit) {
  const auto r = std::find_if(recordings.begin(), recordings.end(), [&](const auto& k) { return k.name == name; });
  if (r == recordings.end()) return {};
  const std::string group = identification::switch_on_of(*r);
  for (const identification::SwitchOn& on : fit.switch_ons)
    if (on.name == group)
      return std::hypot(on.stress_free_skew_m.sd, std::max(r->count_a_m, r->count_b_m) / std::sqrt(6.0));
  return {};
}

std::vector<Search> searches_of(const std::vector<base::StationResult>& done,
                                const std::vector<recording::Recording>& recordings,
                                const identification::MotionFit& fit) {
  std::vector<Search> out;
  for (const base::StationResult& station : done) {
    const base::Value* value = station.name == "marks" ? base::find_value(station, "searches") : nullptr;
    const auto* rows = value != nullptr ? std::get_if<std::vector<base::Row>>(&value->value) : nullptr;
    if (rows == nullptr) continue;
    for (const base::Row& row : *rows) {
      const auto difference = base::find_number(row, "b_minus_a_m");
      const auto own = own_of(text_of(row, "run"), recordings, fit);
      if (difference && own && *own > 0 && text_of(row, "left_out").empty()) out.push_back({*difference, *own});
    }
  }
  return out;
}

}  // namespace

std::optional<MarkScatter> mark_scatter(const std::vector<base::StationResult>& done,
                                        const std::vector<recording::Recording>& recordings,
                                        const identification::MotionFit& fit) {
  if (!fit.done) return {};
  for (const base::StationResult& station : done)  // what drifts scatters too, and is told by its own name
    if (station.name == "marks" && base::find_finding(station, "marks_drift") != nullptr) return {};
  const std::vector<Search> searches = searches_of(done, recordings, fit);
  if (searches.size() < 3) return {};
  const double n = static_cast<double>(searches.size());
  double weights = 0, mean = 0, plain = 0, squares = 0, own = 0;
  for (const Search& s : searches) {
    weights += 1 / (s.own_m * s.own_m), mean += s.b_minus_a_m / (s.own_m * s.own_m);
    plain += s.b_minus_a_m / n, own += s.own_m * s.own_m / n;
  }
  mean /= weights;
  MarkScatter out{.searches = static_cast<int>(searches.size()),
                  .own_m = std::sqrt(own),
                  .limit = math::chi_square_quantile(kSure, n - 1)};
  for (const Search& s : searches) {
    out.chi_square += std::pow((s.b_minus_a_m - mean) / s.own_m, 2);
    squares += std::pow(s.b_minus_a_m - plain, 2);
  }
  out.sd_m = std::sqrt(squares / (n - 1));
  double count_m = 0;
  for (const recording::Recording& r : recordings) count_m = std::max({count_m, r.count_a_m, r.count_b_m});
  out.least_m = std::max(out.own_m * std::sqrt(std::max(0.0, out.limit / (n - 1) - 1)), kLeastCounts * count_m);
  return out;
}

std::vector<Cause> marks_scatter(const std::optional<MarkScatter>& s) {
  if (!s || !(s->chi_square > s->limit) || !(s->sd_m > s->least_m)) return {};
  return {cause(
      "marks_scatter", math::with_sd(s->sd_m, s->own_m), "m", s->least_m,
      {fmt::format("The marks' difference scatters by {:.0f} um (sd) over {} searches, which are good to {:.0f} um "
                   "each: a mark, its flag or its latch is loose, or the bridge's ends shift.",
                   1e6 * s->sd_m, s->searches, 1e6 * s->own_m),
       "Drives off and locked out, look at both marks and flags for a loose screw and at the reading head's gap, and "
       "tighten them; then, nobody at the bridge, search ten times from the same place: the scatter must be gone."},
      0)};
}

}  // namespace evenbeam::diagnosis
