#include "diagnosis/loops_replayed.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

#include "diagnosis/criteria.h"
#include "servo/structures.h"

namespace evenbeam::diagnosis {
namespace {

constexpr double kSamePeriod = 1e-3;       // of the loops' period; a time column has few digits
constexpr double kLikeIt = 0.3;            // of the fight left: the law follows it; a proposal, no source
constexpr double kBetter = 3;              // times closer than the loops stated; a proposal, no source
constexpr double kGainApart = 0.2;         // from one: a proposal, no source
constexpr double kAcceleration_s = 0.005;  // over which the reference's acceleration is taken

using recording::Recording;

bool askable(const Recording& r) {
  using recording::RunKind;
  const bool kind = r.kind == RunKind::test_move || r.kind == RunKind::slow_jog || r.kind == RunKind::skew_step;
  if (!kind || !r.loops || r.b_late_s != 0 || !(r.loops->period_s > 0)) return false;
  if (!recording::has_references(r) || !recording::has_positions(r) || !recording::has_forces(r)) return false;
  return std::abs(r.period_s / r.loops->period_s - 1) < kSamePeriod && r.time_s.size() > 100;
}

// References as a trajectory would ask for them: rates by backward difference, acceleration over a few milliseconds.
struct References {
  const Recording& r;
  std::size_t half = 1;
  double mean(std::size_t k) const { return (r.reference_a_m[k] + r.reference_b_m[k]) / 2; }
  double skew(std::size_t k) const { return r.reference_a_m[k] - r.reference_b_m[k]; }
  servo::Reference at(std::size_t k) const {
    servo::Reference out{.mean_m = mean(k), .skew_m = skew(k)};
    if (k == 0) return out;
    out.mean_m_per_s = (mean(k) - mean(k - 1)) / r.period_s;
    out.skew_m_per_s = (skew(k) - skew(k - 1)) / r.period_s;
    if (k < half || k + half >= r.time_s.size()) return out;
    const double span_s = static_cast<double>(half) * r.period_s;
    out.mean_m_per_s2 = (mean(k + half) - 2 * mean(k) + mean(k - half)) / (span_s * span_s);
    return out;
  }
};

using Column = std::vector<double>;

// The law's fight, sample by sample.
Column fight_of(const servo::StructureSettings& settings, const References& references, std::size_t to) {
  const Recording& r = references.r;
  const servo::StructureLaw law = servo::prepare(settings);
  servo::StructureState state;
  Column out;
  for (std::size_t k = 0; k < to; ++k) {
    const servo::Forces f = servo::step(law, state, references.at(k), r.position_a_m[k], r.position_b_m[k]);
    out.push_back((f.a_n - f.b_n) / 2);
  }
  return out;
}

// Without what both structures share: no clip, so that a law replayed outside its own run does not stop at it.
machine::Settings unclipped(machine::Settings s) {
  s.peak_force_a_n = s.peak_force_b_n = 1e12;
  return s;
}

// What the skew loop alone gives, and what share and feed-forward give besides.
Column skew_part(machine::Settings s, const References& references, std::size_t to) {
  s.mean.velocity_gain_n_s_per_m = 0;
  s.mass_ff_kg = s.coulomb_ff_a_n = s.coulomb_ff_b_n = s.viscous_ff_a_n_s_per_m = s.viscous_ff_b_n_s_per_m = 0;
  return fight_of({.common = s}, references, to);
}

// Samples in which no output stands at its limit: there the law's clip hides what was asked.
std::vector<std::size_t> free_of_clip(const Recording& r, std::size_t to) {
  std::vector<std::size_t> out;
  const auto inside = [](double force, double peak) { return !(peak > 0) || std::abs(force) < 0.999 * peak; };
  for (std::size_t k = 0; k < to; ++k)
    if (inside(r.force_a_n[k], r.loops->peak_force_a_n) && inside(r.force_b_n[k], r.loops->peak_force_b_n))
      out.push_back(k);
  return out;
}

Column at(const Column& x, const std::vector<std::size_t>& samples) {
  Column out;
  for (const std::size_t k : samples) out.push_back(x[k]);
  return out;
}

double mean_of(const Column& x) {
  double sum = 0;
  for (const double v : x) sum += v;
  return sum / static_cast<double>(x.size());
}

double spread_of(const Column& x) {
  const double middle = mean_of(x);
  double sum = 0;
  for (const double v : x) sum += (v - middle) * (v - middle);
  return std::sqrt(sum / static_cast<double>(x.size()));
}

Column minus(const Column& y, const Column& z, double times = 1) {
  Column out(y.size());
  for (std::size_t k = 0; k < y.size(); ++k) out[k] = y[k] - times * z[k];
  return out;
}

// y without what the share takes of the sum and the sides' own feed-forward: gamma u_s is left.
Column without_mean(const Recording& r, const References& references, std::size_t to) {
  const machine::Settings& s = *r.loops;
  Column out(to);
  for (std::size_t k = 0; k < to; ++k) {
    const servo::Reference ref = references.at(k);
    const double way =
        s.coulomb_ramp_m_per_s > 0 ? std::clamp(ref.mean_m_per_s / s.coulomb_ramp_m_per_s, -1.0, 1.0) : 0;
    const double a = s.coulomb_ff_a_n * way + s.viscous_ff_a_n_s_per_m * ref.mean_m_per_s,
                 b = s.coulomb_ff_b_n * way + s.viscous_ff_b_n_s_per_m * ref.mean_m_per_s;
    const double both = r.force_a_n[k] + r.force_b_n[k] - a - b;
    out[k] = (r.force_a_n[k] - r.force_b_n[k]) / 2 - (a - b) / 2 - (s.share - 0.5) * both;
  }
  return out;
}

// Up to the first 20 ms in which an output is exactly zero after it was not: switched off.
std::size_t until_off(const Recording& r) {
  const auto least = static_cast<std::size_t>(std::ceil(0.02 / r.period_s));
  for (const Column* force : {&r.force_a_n, &r.force_b_n}) {
    std::size_t zeros = 0;
    bool gave = false;
    for (std::size_t k = 0; k < force->size(); ++k) {
      zeros = (*force)[k] == 0 ? zeros + 1 : 0;
      gave = gave || (*force)[k] != 0;
      if (gave && zeros >= least) return k + 1 - zeros;
    }
  }
  return r.time_s.size();
}

bool finite(const Column& x) {
  return std::all_of(x.begin(), x.end(), [](double v) { return std::isfinite(v); });
}

struct Other {
  double left;
  const char *id, *words;
};

Cause other_structure(const Recording& r, const ReplayedLoops& l, const Other& best) {
  return seen_in(
      cause(fmt::format("{}_{}", best.id, r.name), math::with_sd(best.left, 0), "1", kLikeIt,
            {fmt::format("The outputs are not those of the loops stated: {:.0f} % of the fight they cannot follow. "
                         "Those of {} leave {:.0f} %.",
                         100 * l.left_as_stated, best.words, 100 * best.left),
             "Look in the controller which position and which reference each side's loop takes, and set or state "
             "what it is. One that follows the other side answers its errors late: both sides should follow one "
             "reference (station loops gives settings of mean and skew)."},
            l.fight_rms_n),
      r, r.time_s[l.from], r.time_s[l.to - 1]);
}

}  // namespace

ReplayedLoops replay_loops(const Recording& r) {
  ReplayedLoops out;
  if (!askable(r)) return out;
  out.to = until_off(r);
  if (out.to < 100) return out;
  const References references{r, std::max<std::size_t>(1, static_cast<std::size_t>(kAcceleration_s / r.period_s))};
  const machine::Settings settings = unclipped(*r.loops);
  if (!servo::check_settings(settings).empty()) return out;
  const std::vector<std::size_t> used = free_of_clip(r, out.to);
  if (used.size() < 100) return out;
  const Column skew = at(skew_part(settings, references, out.to), used),
               y = at(without_mean(r, references, out.to), used);
  if (!finite(skew) || !finite(y)) return out;
  const double ms = mean_of(skew), my = mean_of(y), rms = spread_of(y);
  double ss = 0, sy = 0;
  for (std::size_t k = 0; k < y.size(); ++k)
    ss += (skew[k] - ms) * (skew[k] - ms), sy += (skew[k] - ms) * (y[k] - my);
  if (!(ss > 0) || !(rms > 0)) return out;
  out.asked = true;
  out.fight_rms_n = rms;
  out.gain_factor = sy / ss;
  out.left_as_stated = spread_of(minus(y, skew)) / rms;
  out.left_with_gain = spread_of(minus(y, skew, out.gain_factor)) / rms;
  out.gain_sd = out.left_with_gain * rms / std::sqrt(ss);
  Column whole;
  for (const std::size_t k : used) whole.push_back((r.force_a_n[k] - r.force_b_n[k]) / 2);
  const double whole_rms = spread_of(whole);
  servo::StructureSettings sides = servo::independent_from(settings);
  const auto left = [&](servo::Structure structure) {
    sides.structure = structure;
    return spread_of(minus(whole, at(fight_of(sides, references, out.to), used))) / whole_rms;
  };
  out.left_follower = left(servo::Structure::follower);
  out.left_independent = left(servo::Structure::independent);
  out.left_cross_coupled = left(servo::Structure::cross_coupled);
  return out;
}

std::vector<Cause> loops_not_as_stated(const Recording& r) {
  const ReplayedLoops l = replay_loops(r);
  if (!l.asked || l.left_as_stated < kLikeIt) return {};
  const std::array<Other, 3> others{
      {{l.left_follower, "b_follows_a", "a side B that follows A's position"},
       {l.left_independent, "sides_independent", "two sides that do not know each other"},
       {l.left_cross_coupled, "sides_cross_coupled", "two sides with a coupling of the skew beside"}}};
  const Other best =
      *std::min_element(others.begin(), others.end(), [](const Other& p, const Other& q) { return p.left < q.left; });
  const bool better = best.left < kLikeIt && best.left * kBetter < l.left_as_stated;
  if (better && best.left < l.left_with_gain) return {other_structure(r, l, best)};
  if (l.left_with_gain > kLikeIt || std::abs(l.gain_factor - 1) < kGainApart + 2 * l.gain_sd) return {};
  return {seen_in(
      cause("skew_gain_not_as_stated_" + r.name, math::with_sd(l.gain_factor, l.gain_sd), "1", 1 + kGainApart,
            {fmt::format("The skew loop gave {:.2g} times what the settings stated give for the same skew.",
                         l.gain_factor),
             l.gain_factor > 1
                 ? "Put the gain of the skew loop (cross-coupling) back to what is stated, or state what it is; too "
                   "much of it swings (station loops gives margins)."
                 : "Put the gain of the skew loop (cross-coupling) back to what is stated, or state what it is."},
            std::abs(1 - 1 / l.gain_factor) * l.fight_rms_n),
      r, r.time_s[l.from], r.time_s[l.to - 1])};
}

}  // namespace evenbeam::diagnosis
