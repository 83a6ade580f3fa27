#include "protection/stepper.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace evenbeam::protection {
namespace {

// A clipped side counts as free again a little below its peak: the held integral would else switch it to and fro.
constexpr double kFreeAgain = 0.995;
constexpr int kLooks = 4;  // per step, for events; a step is short against everything that happens in it
constexpr size_t kRooms = 8;

// One quantity of a series as a polynomial of time.
struct Quantity {
  const double* terms = nullptr;
  size_t stride = 0, count = 0;
  double strays = 0;  // within the step
};
Quantity of_state(const Series& s, size_t i) {
  return {&s.terms[0][i], state_size, series_order + 1, s.strays.at(i)};
}
Quantity of_watched(const Series& s, size_t i) {
  return {&s.watched[0][i], watched_size, series_order, s.watched_strays[i]};
}
double value(const Quantity& q, double time_s) {
  double out = 0;
  for (size_t k = q.count; k-- > 0;) out = out * time_s + q.terms[k * q.stride];
  return out;
}

template <size_t Count>
void values(const Quantity& q, const std::array<double, Count>& times_s, std::array<double, Count>& out) {
  std::array<double, Count> sum{};
  const std::array<double, Count> times = times_s;
  for (size_t k = q.count; k-- > 0;)
    for (size_t i = 0; i < Count; ++i) sum[i] = sum[i] * times[i] + q.terms[k * q.stride];
  out = sum;
}

// Rooms are positive while the mode holds; an event is where one falls through zero. In the order of Met, from
// stops_a.
struct Rooms {
  const EventModel& m;
  const Mode& mode;
  const Levels& levels;
  const Series& s;

  Quantity quantity(size_t room) const {
    switch (room) {
      case 0:
        return of_state(s, v_a);
      case 1:
        return of_state(s, v_b);
      case 2:
        return of_watched(s, hold_a);
      case 3:
        return of_watched(s, hold_b);
      case 4:
        return of_watched(s, wanted_a);
      case 5:
        return of_watched(s, wanted_b);
      default:
        return of_state(s, skew_error);
    }
  }
  bool watched(size_t room) const {
    const auto clips = [](const SideMode& side) {
      return side.output == Output::loop || side.output == Output::follow;
    };
    switch (room) {
      case 0:
        return mode.a.slides != 0;
      case 1:
        return mode.b.slides != 0;
      case 2:
        return mode.a.slides == 0;
      case 3:
        return mode.b.slides == 0;
      case 4:
        return clips(mode.a);
      case 5:
        return clips(mode.b);
      case 6:
        return std::isfinite(levels.skew_m);
      default:
        return std::isfinite(levels.following_m);
    }
  }
  double room(size_t which, double x, double mean_error_m) const {
    const auto clip = [x](const SideModel& side, const SideMode& one) {
      return one.clip == 0 ? side.peak_n - std::abs(x) : one.clip * x - kFreeAgain * side.peak_n;
    };
    switch (which) {
      case 0:
        return mode.a.slides * x;
      case 1:
        return mode.b.slides * x;
      case 2:
        return m.a.coulomb_n + mode.a.extra_coulomb_n - std::abs(x);
      case 3:
        return m.b.coulomb_n + mode.b.extra_coulomb_n - std::abs(x);
      case 4:
        return clip(m.a, mode.a);
      case 5:
        return clip(m.b, mode.b);
      case 6:
        return levels.skew_m - std::abs(x);
      default:  // the worse of both sides
        return levels.following_m - std::abs(mean_error_m) - std::abs(x) / 2;
    }
  }
  double at(size_t which, double time_s) const {
    return room(which, value(quantity(which), time_s), which == 7 ? value(of_state(s, mean_error), time_s) : 0);
  }
  // At the step's start and at each look; beside each other, since one polynomial alone waits for itself.
  std::array<double, kLooks + 1> at_looks(size_t which) const {
    std::array<double, kLooks + 1> times{}, out{}, mean{};
    for (int look = 0; look <= kLooks; ++look) times.at(look) = s.length_s * look / kLooks;
    values(quantity(which), times, out);
    if (which == 7) values(of_state(s, mean_error), times, mean);
    for (size_t i = 0; i < out.size(); ++i) out[i] = room(which, out[i], mean[i]);
    return out;
  }
  // No room changes faster than its quantities: what cannot reach zero is not looked at.
  bool may_end(size_t which) const {
    if (!watched(which)) return false;
    const Quantity q = quantity(which);
    const double strays = q.strays + (which == 7 ? s.strays[mean_error] : 0);
    return room(which, q.terms[0], s.terms[0][mean_error]) <= strays;
  }
};

// Where the room is used up, between `from` (room left) and `to` (none): false position, the end that stays halved
// (the Illinois rule, from memory), every fourth step a bisection. Returns the end without room, 1e-12 s past the
// other.
double root(const Rooms& rooms, size_t which, double from, double to, double room_from, double room_to) {
  constexpr double near_s = 1e-12;
  int last = 0;
  for (int i = 0; i < 60 && to - from > near_s; ++i) {
    const double guess = i % 4 == 3 ? (from + to) / 2 : to - room_to * (to - from) / (room_to - room_from);
    const double at = std::clamp(guess, from + 0.45 * near_s, to - 0.45 * near_s);
    const double room = rooms.at(which, at);
    const int kept = room > 0 ? 1 : -1;
    if (room > 0)
      from = at, room_from = room;
    else
      to = at, room_to = room;
    if (kept == last) (room > 0 ? room_to : room_from) /= 2;
    last = kept;
  }
  return to;
}

// First instant of the step at which the room is used up; false where it is not. A trip
// already passed is no event again; what has just begun to slide starts at zero speed.
bool first_end(const Rooms& rooms, size_t which, double& when_s) {
  const std::array<double, kLooks + 1> seen = rooms.at_looks(which);
  const double h = rooms.s.length_s;
  for (int look = 1; look <= kLooks; ++look) {
    const double before = seen.at(look - 1), after = seen.at(look), to = h * look / kLooks;
    if (after <= 0 && (before > 0 || which < 6)) {
      when_s = before > 0 ? root(rooms, which, h * (look - 1) / kLooks, to, before, after) : to;
      return true;
    }
  }
  return false;
}

void apply(Mode& mode, State& z, const Watched& w, Met met) {
  const auto sign = [](double x) { return x > 0 ? 1 : -1; };
  if (met == Met::stops_a) z[v_a] = 0, mode.a.slides = 0;
  if (met == Met::stops_b) z[v_b] = 0, mode.b.slides = 0;
  if (met == Met::breaks_a) mode.a.slides = sign(w[hold_a]);
  if (met == Met::breaks_b) mode.b.slides = sign(w[hold_b]);
  if (met == Met::clip_a) mode.a.clip = mode.a.clip != 0 ? 0 : sign(w[wanted_a]);
  if (met == Met::clip_b) mode.b.clip = mode.b.clip != 0 ? 0 : sign(w[wanted_b]);
}

}  // namespace

Watched watched_at(const EventModel& m, const Mode& mode, const State& z) {
  State unused;
  Watched out;
  rates(law_of(m, mode), z, 1, unused, out);
  return out;
}

void settle_mode(const EventModel& m, Mode& mode, State& z) {
  Watched w = watched_at(m, mode, z);
  const auto clip = [](const SideModel& side, SideMode& s, double wanted) {
    const bool loop = s.output == Output::loop || s.output == Output::follow;
    s.clip = loop && std::abs(wanted) > side.peak_n ? (wanted > 0 ? 1 : -1) : 0;
  };
  clip(m.a, mode.a, w[wanted_a]);
  clip(m.b, mode.b, w[wanted_b]);
  const auto breaks = [](const SideModel& side, SideMode& s, double holds) {
    if (s.slides != 0 || std::abs(holds) <= side.coulomb_n + s.extra_coulomb_n) return false;
    s.slides = holds > 0 ? 1 : -1;
    return true;
  };
  // Twice: one side's start changes what holds the other.
  for (int pass = 0; pass < 2; ++pass) {
    if (breaks(m.a, mode.a, w[hold_a])) w = watched_at(m, mode, z);
    if (breaks(m.b, mode.b, w[hold_b])) w = watched_at(m, mode, z);
  }
}

Step advance(const EventModel& m, Mode& mode, State& z, double longest_s, const Levels& levels) {
  Step step{.series = series(m, mode, z, longest_s)};
  step.length_s = step.series.length_s;
  const Rooms rooms{m, mode, levels, step.series};
  for (size_t i = 0; i < kRooms; ++i) {
    double when_s = 0;
    if (!rooms.may_end(i) || !first_end(rooms, i, when_s)) continue;
    if (when_s < step.length_s || (when_s <= step.length_s && step.met == Met::length)) {
      step.length_s = when_s;
      step.met = static_cast<Met>(i + 1);
    }
  }
  z = at(step.series, step.length_s);
  if (step.met == Met::length) return step;
  apply(mode, z, watched_at(m, mode, z), step.met);
  if (step.met == Met::stops_a || step.met == Met::stops_b) settle_mode(m, mode, z);
  return step;
}

Peak largest_skew(const Step& step, double least) {
  constexpr int looks = 6;
  const Quantity q = of_state(step.series, skew);
  Peak best{least, 0};
  if (std::abs(q.terms[0]) + q.strays <= least) return best;
  const double h = step.length_s / looks;
  std::array<double, looks + 1> times{}, size{};
  for (size_t i = 0; i <= looks; ++i) times[i] = h * static_cast<double>(i);
  values(q, times, size);
  size_t top = 0;
  for (size_t i = 0; i <= looks; ++i) {
    size[i] = std::abs(size[i]);
    if (size[i] > size[top]) top = i;
  }
  if (size[top] > best.size) best = {size[top], h * static_cast<double>(top)};
  // A parabola through the best look and its neighbours.
  if (!(h > 0) || top == 0 || top == looks) return best;
  const double bend = size[top - 1] - 2 * size[top] + size[top + 1];
  if (bend >= 0) return best;
  const double t =
      std::clamp(h * static_cast<double>(top) + h * (size[top - 1] - size[top + 1]) / (2 * bend), 0.0, step.length_s);
  const double there = std::abs(value(q, t));
  if (there > best.size) best = {there, t};
  return best;
}

}  // namespace evenbeam::protection
