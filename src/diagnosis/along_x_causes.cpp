#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>

#include "diagnosis/criteria.h"
#include "diagnosis/slope.h"
#include "math/median.h"
#include "math/student.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kAlong = 0.3;      // of the mean Coulomb friction, over the way covered; a proposal, no source
constexpr double kPull = 0.5;       // of both sides' Coulomb friction; a proposal, no source
constexpr double kSpot = 0.3;       // of that side's mean friction, and
constexpr double kSpotSpreads = 5;  // times the spread from place to place; proposals, no source

struct Scale {
  double friction_n = 0;      // of a side: Coulomb by the fit, else the map's own
  double spring_n_per_m = 0;  // K/L^2; 0: not known
};

std::vector<double> halves(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> out(a.size());
  for (std::size_t i = 0; i < a.size(); ++i) out[i] = (a[i] + b[i]) / 2;
  return out;
}

Cause shown(Cause c, const ForceAlongX& map) {
  c.finding.recording = map.recording;
  c.finding.from_s = map.from_s;
  c.finding.to_s = map.to_s;
  return c;
}

// Both ways must tell the same slope within a factor of two: a strain repeats, a warming motor does not.
std::optional<Cause> strain(const ForceAlongX& map, const Scale& scale) {
  const math::Estimate s = slope(map.x_m, halves(map.fight_there_n, map.fight_back_n));
  const double there = slope(map.x_m, map.fight_there_n).value, back = slope(map.x_m, map.fight_back_n).value;
  const double way = map.x_m.back() - map.x_m.front(), limit = kAlong * scale.friction_n / way;
  if (!beside_zero(s) || std::abs(s.value) < limit || there * back <= 0) return {};
  if (std::max(std::abs(there), std::abs(back)) > 2 * std::min(std::abs(there), std::abs(back))) return {};
  const double fight_n = std::abs(s.value) * way / 2;
  const std::string as_if = scale.spring_n_per_m > 0
                                ? fmt::format(", as if a metre read on {} were {:.0f} um longer than one read on {}",
                                              s.value > 0 ? "A" : "B", 1e6 * std::abs(s.value) / scale.spring_n_per_m,
                                              s.value > 0 ? "B" : "A")
                                : "";
  return shown(
      cause(
          "fight_grows_along_x", s, "N/m", limit,
          {fmt::format("The fight changes by {:.0f} N over {:.2f} m, there and back alike{}.",
                       std::abs(s.value) * way, way, as_if),
           "Scales or pitches that differ, rails that run apart and a cable pulling harder at one end look the same "
           "here. Read a laser or one long scale on both sides over the same way: readings that part are scale or "
           "pitch; readings that agree leave rails and cable, and an empty cable chain tells these apart."},
          fight_n),
      map);
}

std::optional<Cause> pull(const ForceAlongX& map, const Scale& scale) {
  const double n = static_cast<double>(map.pull_n.size()), middle = mean(map.pull_n);
  double squares = 0;
  for (const double p : map.pull_n) squares += (p - middle) * (p - middle);
  const double sd = std::sqrt(squares / (n - 1) / n), limit = kPull * 2 * scale.friction_n;
  const math::Estimate size = math::with_sd(middle, sd, 1, math::student_quantile(0.975, n - 1));
  if (!beside_zero(size) || std::abs(middle) < limit) return {};
  return shown(
      cause("pull_on_the_bridge", size, "N", limit,
            {fmt::format("Whichever way it goes, {:.0f} N pull the bridge towards {}.", std::abs(middle),
                         middle > 0 ? "-x" : "+x"),
             "Look at the axis' tilt, the cable chain and a counterweight or bellows. Take the chain off its "
             "driver, or read a level, and record again. Brakes must hold this pull too (station ready)."},
            0),
      map);
}

// A pull o(x) on one side alone is in S whole and in d by half: slope of S = 2 (A) or -2 (B) times that of d'. Rails,
// scales and pitches leave S alone. Within a factor of 1.5; a proposal, no source.
std::optional<Cause> cable(const ForceAlongX& map, const Scale& scale) {
  const math::Estimate both = slope(map.x_m, map.pull_n);
  const math::Estimate fight = slope(map.x_m, halves(map.fight_there_n, map.fight_back_n));
  const double way = map.x_m.back() - map.x_m.front(), limit = 2 * kAlong * scale.friction_n / way;
  const double ratio = std::abs(both.value / (2 * fight.value));
  if (!beside_zero(both) || !beside_zero(fight) || std::abs(both.value) < limit) return {};
  if (!(ratio > 1 / 1.5 && ratio < 1.5)) return {};
  const bool on_a = both.value * fight.value > 0;
  return shown(
      cause(std::string("pull_grows_along_x_") + (on_a ? "a" : "b"), both, "N/m", limit,
            {fmt::format("Something pulls side {} alone, {:.0f} N more at the {} end of {:.2f} m, whichever "
                         "way it goes.",
                         on_a ? "A" : "B", std::abs(both.value) * way, both.value > 0 ? "+x" : "-x", way),
             "Look at the cable chain, hoses and bellows of that side. Take the chain off its driver and jog "
             "again: rails, scales and pitches would not change the sum of both forces."},
            std::abs(both.value) * way / 2),
      map);
}

std::optional<Cause> spot(const ForceAlongX& map, const std::vector<double>& friction, const char* side,
                          const char* id) {
  const double middle = math::median(friction);
  std::vector<double> off(friction.size());
  std::transform(friction.begin(), friction.end(), off.begin(), [&](double f) { return std::abs(f - middle); });
  const double spread = 1.4826 * math::median(off);  // of a normal distribution's median deviation
  const auto most = std::max_element(friction.begin(), friction.end()) - friction.begin();
  const double rise = friction[static_cast<std::size_t>(most)] - middle;
  const double limit = std::max(kSpot * std::abs(middle), kSpotSpreads * spread);
  if (rise <= limit) return {};
  return shown(cause(std::string("tight_spot_") + id, math::with_sd(rise, spread), "N", limit,
                     {fmt::format("Side {} rubs {:.0f} N more at x = {:.3f} m than along the rest of its way, there "
                                  "and back.",
                                  side, rise, map.x_m[static_cast<std::size_t>(most)]),
                      "Look there for dirt, a rail joint, a bolt that pulls the rail, dry grease or a damaged "
                      "carriage; drives off and locked out, push by hand over the place."},
                     rise / 2),
               map);
}

}  // namespace

std::vector<Cause> along_x(const ForceAlongX& map, const identification::MotionFit& fit) {
  std::vector<Cause> out;
  if (map.x_m.empty()) return out;
  const Scale scale{friction_of_a_side(fit, map), map.spring_n_per_m};
  if (auto c = cable(map, scale))
    out.push_back(*c);
  else if (auto s = strain(map, scale))
    out.push_back(*s);
  if (auto c = pull(map, scale)) out.push_back(*c);
  if (auto c = spot(map, map.friction_a_n, "A", "a")) out.push_back(*c);
  if (auto c = spot(map, map.friction_b_n, "B", "b")) out.push_back(*c);
  return out;
}

}  // namespace evenbeam::diagnosis
