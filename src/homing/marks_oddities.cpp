#include "homing/marks_oddities.h"

#include <algorithm>
#include <cmath>

#include "math/median.h"
#include "math/student.h"

namespace evenbeam::homing {
namespace {

constexpr double kLeastOff_m = 20e-6;         // smaller disagreement is nobody's concern; common practice, no source
constexpr double kStandardUncertainties = 4;  // beyond which a run is odd
constexpr double kLongestDelay_s = 0.1;       // later than that it is no latch; common practice, no source
constexpr double kLeastDrift_m = 5e-6;        // a run

struct Look {
  std::vector<SearchRun*> runs;  // that saw both marks
  std::vector<double> value_m;   // difference of each
  double middle_m = 0, spread_m = 0;
  bool precise = false;  // power-up skew taken out
};

Look look(std::vector<SearchRun>& runs) {
  Look l;
  l.precise = std::any_of(runs.begin(), runs.end(), [](const SearchRun& r) { return r.b_minus_a_m.has_value(); });
  for (SearchRun& r : runs) {
    if (!r.both_seen || (l.precise && !r.b_minus_a_m)) continue;
    l.runs.push_back(&r);
    l.value_m.push_back(r.b_minus_a_m ? r.b_minus_a_m->value : r.latch_a_m - r.latch_b_m);
  }
  if (l.runs.empty()) return l;
  l.middle_m = math::median(l.value_m);
  std::vector<double> off;
  for (const double v : l.value_m) off.push_back(std::abs(v - l.middle_m));
  l.spread_m = 1.4826 * math::median(off);  // of a normal distribution, from the median deviation
  return l;
}

// Median latch of one side over the other runs.
double usual_latch(const Look& l, const SearchRun* but, bool of_a) {
  std::vector<double> latches;
  for (const SearchRun* r : l.runs)
    if (r != but) latches.push_back(of_a ? r->latch_a_m : r->latch_b_m);
  return math::median(latches);
}

// Either A's latch is off by off_m, or B's by its opposite. The searches began in other places: if A is wrong, B's
// latch shows by how much this one did, and the other way round. The smaller shift is believed where it is small.
WhichSide side_of(const Look& l, const SearchRun& run, double off_m) {
  const double shift_if_a = std::abs(run.latch_b_m - usual_latch(l, &run, false));
  const double shift_if_b = std::abs(run.latch_a_m - usual_latch(l, &run, true));
  if (std::min(shift_if_a, shift_if_b) > std::abs(off_m) / 3) return WhichSide::unknown;
  return shift_if_a < shift_if_b ? WhichSide::a : WhichSide::b;
}

double late_m(const SearchRun& run, WhichSide side, double off_m) {
  const double direction = run.speed_m_per_s < 0 ? -1 : 1;
  return direction * (side == WhichSide::b ? -off_m : off_m);
}

// One run against the middle; nothing where it agrees.
std::optional<Oddity> judge(const Look& l, size_t k, double pitch_m, double flag_width_m, double allowable_m) {
  const SearchRun& run = *l.runs[k];
  const double off = l.value_m[k] - l.middle_m;
  const double own_sd = run.b_minus_a_m ? run.b_minus_a_m->sd : 0;
  const double agree =
      l.precise ? std::max({kStandardUncertainties * std::hypot(own_sd, l.spread_m), kLeastOff_m}) : 2 * allowable_m;
  Oddity odd{.run = run.name, .doubt_m = l.precise ? 0 : agree};
  // Powered up racked, bare differences differ: only whole pitches stand out.
  const double near_pitch = l.precise ? std::max(agree, 0.02 * pitch_m) : 0.25 * pitch_m;
  if (pitch_m > 0) odd.pitches = static_cast<int>(std::lround(off / pitch_m));
  if (odd.pitches != 0 && std::abs(off - odd.pitches * pitch_m) < near_pitch) {
    odd.kind = OddKind::slipped_pitch;
    odd.doubt_m = 0;
    odd.side = side_of(l, run, odd.pitches * pitch_m);
    odd.size_m = late_m(run, odd.side, odd.pitches * pitch_m);
    odd.pitches = std::abs(odd.pitches);
    return odd;
  }
  odd.pitches = 0;
  if (agree == 0 || std::abs(off) <= agree) return std::nullopt;
  if (flag_width_m > 0 && std::abs(std::abs(off) - flag_width_m) < std::max(agree, 0.1 * flag_width_m)) {
    odd.kind = OddKind::wrong_edge;
    odd.side = side_of(l, run, off);
    odd.size_m = late_m(run, odd.side, off);
    return odd;
  }
  // A latch comes late, never early.
  odd.side = late_m(run, WhichSide::a, off) > 0 ? WhichSide::a : WhichSide::b;
  odd.size_m = late_m(run, odd.side, off);
  odd.size_s = run.speed_m_per_s != 0 ? odd.size_m / std::abs(run.speed_m_per_s) : 0;
  const bool delay = odd.size_s > 0 && odd.size_s < kLongestDelay_s;
  odd.kind = delay ? OddKind::late_latch : OddKind::unexplained;
  if (!delay) odd.side = WhichSide::unknown;
  return odd;
}

// A straight line over the order of the runs, where there are at least four: slope and its t.
std::optional<Oddity> drift(const Look& l) {
  std::vector<double> x, y;
  for (size_t k = 0; k < l.runs.size(); ++k)
    if (!l.runs[k]->left_out) x.push_back(static_cast<double>(k)), y.push_back(l.value_m[k]);
  const auto n = static_cast<double>(x.size());
  if (!l.precise || x.size() < 4) return std::nullopt;
  double mx = 0, my = 0, xx = 0, xy = 0, rest = 0;
  for (size_t k = 0; k < x.size(); ++k) mx += x[k] / n, my += y[k] / n;
  for (size_t k = 0; k < x.size(); ++k) xx += (x[k] - mx) * (x[k] - mx), xy += (x[k] - mx) * (y[k] - my);
  const double slope = xy / xx;
  for (size_t k = 0; k < x.size(); ++k) rest += std::pow(y[k] - my - slope * (x[k] - mx), 2);
  const double sd = std::sqrt(rest / (n - 2) / xx);
  if (std::abs(slope) < kLeastDrift_m || std::abs(slope) < math::coverage_factor(0.99, n - 2) * sd)
    return std::nullopt;
  return Oddity{.kind = OddKind::drifting, .size_m = slope};
}

// Searched both ways: twice the travel during the difference of the sides' delays lies between the means.
std::optional<Oddity> by_direction(const Look& l) {
  std::vector<double> forward, back;
  double speed = 0;
  for (size_t k = 0; k < l.runs.size(); ++k) {
    if (l.runs[k]->left_out) continue;
    (l.runs[k]->speed_m_per_s > 0 ? forward : back).push_back(l.value_m[k]);
    speed = std::max(speed, std::abs(l.runs[k]->speed_m_per_s));
  }
  if (!l.precise || forward.size() < 2 || back.size() < 2 || speed == 0) return std::nullopt;
  const double apart = math::median(forward) - math::median(back);
  const auto [low, high] = std::minmax_element(forward.begin(), forward.end());
  const auto [low_back, high_back] = std::minmax_element(back.begin(), back.end());
  if (std::abs(apart) < 2 * std::max({*high - *low, *high_back - *low_back, kLeastOff_m / 2})) return std::nullopt;
  return Oddity{.kind = OddKind::direction,
                .side = apart > 0 ? WhichSide::a : WhichSide::b,
                .size_m = std::abs(apart) / 2,
                .size_s = std::abs(apart) / 2 / speed};
}

// Slips of the same side that come and go.
std::optional<Oddity> near_edge(const std::vector<Oddity>& odd, size_t runs, double pitch_m) {
  for (const WhichSide side : {WhichSide::a, WhichSide::b}) {
    const auto slips = static_cast<size_t>(std::count_if(
        odd.begin(), odd.end(), [&](const Oddity& o) { return o.kind == OddKind::slipped_pitch && o.side == side; }));
    if (slips >= 2 && runs > slips + 1)
      return Oddity{.kind = OddKind::near_switch_edge, .side = side, .size_m = pitch_m / 2};
  }
  return std::nullopt;
}

}  // namespace

std::vector<Oddity> find_oddities(std::vector<SearchRun>& runs, double pitch_m, double flag_width_m,
                                  double allowable_skew_m) {
  std::vector<Oddity> out;
  const Look l = look(runs);
  if (l.runs.size() < 3) return out;  // two that disagree do not say which is wrong
  const auto moving = drift(l);
  for (size_t k = 0; k < l.runs.size(); ++k)
    if (const auto odd = judge(l, k, pitch_m, flag_width_m, allowable_skew_m)) {
      if (moving && odd->kind != OddKind::slipped_pitch) continue;  // the ends of a drift are no faults of their own
      l.runs[k]->left_out = true;
      out.push_back(*odd);
    }
  for (const auto& common : {moving, by_direction(l), near_edge(out, l.runs.size(), pitch_m)})
    if (common) out.push_back(*common);
  return out;
}

}  // namespace evenbeam::homing
