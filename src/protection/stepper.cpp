#include "protection/stepper.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace evenbeam::protection {
namespace {

// A clipped side counts as free again a little below its peak: the held integral would else switch it to and fro.
constexpr double kFreeAgain = 0.995;
constexpr int kLooks = 4;  // per step, for events; a step is short against everything that happens in it

// Positive while the mode holds; an event is where it falls through zero.
struct Watch {
  std::array<double, 8> room{};  // in the order of Met, from stops_a
};

double clip_room(const SideModel& side, const SideMode& mode, double wanted) {
  if (mode.output != Output::loop && mode.output != Output::follow) return 1;
  return mode.clip == 0 ? side.peak_n - std::abs(wanted) : mode.clip * wanted - kFreeAgain * side.peak_n;
}

Watch watch(const EventModel& m, const Mode& mode, const State& z, const Levels& levels) {
  Watch w;
  w.room.fill(1);
  if (mode.a.slides != 0) w.room[0] = mode.a.slides * z[v_a];
  if (mode.b.slides != 0) w.room[1] = mode.b.slides * z[v_b];
  if (mode.a.slides == 0) w.room[2] = m.a.coulomb_n + mode.a.extra_coulomb_n - std::abs(holding_a_n(m, mode, z));
  if (mode.b.slides == 0) w.room[3] = m.b.coulomb_n + mode.b.extra_coulomb_n - std::abs(holding_b_n(m, mode, z));
  w.room[4] = clip_room(m.a, mode.a, wanted_a_n(m, mode, z));
  w.room[5] = clip_room(m.b, mode.b, wanted_b_n(m, mode, z));
  w.room[6] = levels.skew_m - std::abs(z[skew_error]);
  w.room[7] = levels.following_m - std::abs(z[mean_error]) - std::abs(z[skew_error]) / 2;  // the worse of both sides
  return w;
}

// Where `which` falls through zero between two looks.
double root(const EventModel& m, const Mode& mode, const Series& s, const Levels& levels, size_t which, double from,
            double to) {
  for (int i = 0; i < 60 && to - from > 1e-12; ++i) {
    const double middle = (from + to) / 2;
    (watch(m, mode, at(s, middle), levels).room[which] > 0 ? from : to) = middle;
  }
  return to;
}

void apply(const EventModel& m, Mode& mode, State& z, Met met) {
  switch (met) {
    case Met::stops_a:
      z[v_a] = 0, mode.a.slides = 0;
      break;
    case Met::stops_b:
      z[v_b] = 0, mode.b.slides = 0;
      break;
    case Met::breaks_a:
      mode.a.slides = holding_a_n(m, mode, z) > 0 ? 1 : -1;
      break;
    case Met::breaks_b:
      mode.b.slides = holding_b_n(m, mode, z) > 0 ? 1 : -1;
      break;
    case Met::clip_a:
      mode.a.clip = mode.a.clip != 0 ? 0 : (wanted_a_n(m, mode, z) > 0 ? 1 : -1);
      break;
    case Met::clip_b:
      mode.b.clip = mode.b.clip != 0 ? 0 : (wanted_b_n(m, mode, z) > 0 ? 1 : -1);
      break;
    case Met::length:
    case Met::skew_trip:
    case Met::following_trip:
      break;
  }
}

}  // namespace

void settle_mode(const EventModel& m, Mode& mode, State& z) {
  const auto clip = [](const SideModel& side, SideMode& s, double wanted) {
    const bool loop = s.output == Output::loop || s.output == Output::follow;
    s.clip = loop && std::abs(wanted) > side.peak_n ? (wanted > 0 ? 1 : -1) : 0;
  };
  clip(m.a, mode.a, wanted_a_n(m, mode, z));
  clip(m.b, mode.b, wanted_b_n(m, mode, z));
  // Twice: one side's start changes what holds the other.
  for (int pass = 0; pass < 2; ++pass) {
    const double a = holding_a_n(m, mode, z);
    if (mode.a.slides == 0 && std::abs(a) > m.a.coulomb_n + mode.a.extra_coulomb_n) mode.a.slides = a > 0 ? 1 : -1;
    const double b = holding_b_n(m, mode, z);
    if (mode.b.slides == 0 && std::abs(b) > m.b.coulomb_n + mode.b.extra_coulomb_n) mode.b.slides = b > 0 ? 1 : -1;
  }
}

Step advance(const EventModel& m, Mode& mode, State& z, double longest_s, const Levels& levels) {
  Step step{.series = series(m, mode, z, longest_s)};
  step.length_s = step.series.length_s;
  Watch before = watch(m, mode, z, levels);
  // What has just begun to slide starts at zero speed; its first look counts from just after the start.
  double from = 0;
  State end = z;
  for (int look = 1; look <= kLooks; ++look) {
    const double to = step.series.length_s * look / kLooks;
    end = at(step.series, to);
    const Watch after = watch(m, mode, end, levels);
    double first = to;
    for (size_t i = 0; i < after.room.size(); ++i) {
      const bool fell = after.room[i] <= 0 && (before.room[i] > 0 || i < 6);
      if (!fell) continue;
      const double when = before.room[i] > 0 ? root(m, mode, step.series, levels, i, from, to) : to;
      if (when < first || (when <= first && step.met == Met::length)) {
        first = when;
        step.met = static_cast<Met>(i + 1);
      }
    }
    if (step.met != Met::length) {
      step.length_s = first;
      end = at(step.series, first);
      break;
    }
    before = after;
    from = to;
  }
  z = end;
  apply(m, mode, z, step.met);
  if (step.met == Met::stops_a || step.met == Met::stops_b) settle_mode(m, mode, z);
  return step;
}

Peak largest_skew(const Step& step) {
  constexpr int looks = 6;
  Peak best;
  const auto skew_at = [&](double t) {
    double out = step.series.terms[series_order][skew];
    for (int k = series_order - 1; k >= 0; --k) out = out * t + step.series.terms[static_cast<size_t>(k)][skew];
    return out;
  };
  for (int i = 0; i <= looks; ++i) {
    const double t = step.length_s * i / looks, size = std::abs(skew_at(t));
    if (size > best.size || i == 0) best = {size, t};
  }
  // A parabola through the best look and its neighbours.
  const double h = step.length_s / looks;
  if (!(h > 0) || best.at_s < h / 2 || best.at_s > step.length_s - h / 2) return best;
  const double left = std::abs(skew_at(best.at_s - h)), right = std::abs(skew_at(best.at_s + h));
  const double bend = left - 2 * best.size + right;
  if (bend < 0) {
    const double t = std::clamp(best.at_s + h * (left - right) / (2 * bend), 0.0, step.length_s);
    const double size = std::abs(skew_at(t));
    if (size > best.size) best = {size, t};
  }
  return best;
}

}  // namespace evenbeam::protection
