#include "path.h"

#include <algorithm>
#include <cmath>

namespace generator {
namespace {

Reference after(const Reference& r, double jerk, double t) {
  return {r.place + t * (r.speed + t * (r.acceleration / 2 + t * jerk / 6)),
          r.speed + t * (r.acceleration + t * jerk / 2), r.acceleration + t * jerk};
}

// Times of the ramp from rest to `speed`: of each jerk piece, and of the constant acceleration between them.
struct Ramp {
  double jerk_s = 0, flat_s = 0;
};
Ramp ramp_to(double speed, const MoveLimits& l) {
  const double full = l.acceleration_m_per_s2 / l.jerk_m_per_s3;
  if (speed >= l.acceleration_m_per_s2 * full) return {full, speed / l.acceleration_m_per_s2 - full};
  return {std::sqrt(speed / l.jerk_m_per_s3), 0};
}
double ramp_distance(double speed, const MoveLimits& l) {
  const Ramp r = ramp_to(speed, l);
  return speed * (2 * r.jerk_s + r.flat_s) / 2;
}

}  // namespace

void Path::piece(double time_s, double jerk) {
  if (time_s <= 0) return;
  pieces_.push_back({end_s_, jerk, end_});
  end_ = after(end_, jerk, time_s);
  end_s_ += time_s;
}

void Path::run_up(double speed, const MoveLimits& limits) {
  const double sign = speed < 0 ? -1 : 1;
  const Ramp r = ramp_to(std::abs(speed), limits);
  piece(r.jerk_s, sign * limits.jerk_m_per_s3);
  piece(r.flat_s, 0);
  piece(r.jerk_s, -sign * limits.jerk_m_per_s3);
  end_.acceleration = 0;
}

void Path::move(double distance_m, const MoveLimits& limits) {
  const double length = std::abs(distance_m), target = end_.place + distance_m, sign = distance_m < 0 ? -1 : 1;
  double speed = limits.speed_m_per_s;
  if (2 * ramp_distance(speed, limits) > length) {  // too short for full speed: halve down to the speed it reaches
    double low = 0, high = speed;
    for (int i = 0; i < 200; ++i)
      (2 * ramp_distance((low + high) / 2, limits) > length ? high : low) = (low + high) / 2;
    speed = low;
  }
  run_up(sign * speed, limits);
  cruise((length - 2 * ramp_distance(speed, limits)) / speed);
  const Ramp r = ramp_to(speed, limits);
  piece(r.jerk_s, -sign * limits.jerk_m_per_s3);
  piece(r.flat_s, 0);
  piece(r.jerk_s, sign * limits.jerk_m_per_s3);
  end_ = {target, 0, 0};
}

Reference Path::at(double time_s) const {
  if (pieces_.empty() || time_s >= end_s_) return after(end_, 0, std::max(0.0, time_s - end_s_));
  std::size_t low = 0, high = pieces_.size();
  while (high - low > 1) {
    const std::size_t middle = (low + high) / 2;
    (pieces_[middle].from_s <= time_s ? low : high) = middle;
  }
  return after(pieces_[low].start, pieces_[low].jerk, time_s - pieces_[low].from_s);
}

}  // namespace generator
