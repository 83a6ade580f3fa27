#pragma once
// Reference of a move with bounded jerk: pieces of constant jerk, one after the other.
#include <vector>

#include "law.h"

namespace generator {

struct MoveLimits {
  double speed_m_per_s = 0, acceleration_m_per_s2 = 0, jerk_m_per_s3 = 0;
};

class Path {
 public:
  void rest(double time_s) { piece(time_s, 0); }
  // From rest to rest over a distance of either sign, as fast as the limits allow.
  void move(double distance_m, const MoveLimits& limits);
  // From rest to a constant speed, then on at it; the path ends moving.
  void run_up(double speed_m_per_s, const MoveLimits& limits);
  void cruise(double time_s) { piece(time_s, 0); }
  Reference at(double time_s) const;
  double length_s() const { return end_s_; }

 private:
  struct Piece {
    double from_s, jerk;
    Reference start;
  };
  void piece(double time_s, double jerk);
  std::vector<Piece> pieces_;
  double end_s_ = 0;
  Reference end_;
};

}  // namespace generator
