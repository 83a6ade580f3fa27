#pragma once
// The strokes of a move, and the phases of each, read from the mean reference r = (r_A + r_B)/2 alone.
// Velocity and acceleration are central differences over `difference_s` on each side, so that a reference written
// with few digits still gives them. A stroke is a run of samples faster than 0.2 % of the top speed (or than what the
// smallest step of the reference can look like); its ends are then moved to where the reference really leaves and
// reaches its rest. Inside it: cruise where |a| is under 5 % of the largest, else acceleration or deceleration.
// Assumed: references are noise-free but for their digits; a reversal without rest is two strokes.
#include <cstddef>
#include <string>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::acceptance {

enum class Phase { rest, acceleration, cruise, deceleration };
std::string to_text(Phase phase);

inline constexpr double difference_s = 0.002;

struct Stroke {
  std::size_t from = 0, to = 0;  // samples [from, to) in which the reference moves
  std::size_t rest_to = 0;       // the rest after it is [to, rest_to)
  int direction = 0;             // +1 along +x
  double distance_m = 0;         // signed, of the mean reference
  double top_speed_m_per_s = 0;
  bool stop_seen = false;  // the reference came to rest inside the file
  bool rest_cut = false;   // the file ends within the rest
};

struct Phases {
  std::vector<Phase> of_sample;  // one a sample
  std::vector<Stroke> strokes;
};

// Needs references; strokes may be empty (nothing commanded).
Phases find_phases(const recording::Recording& recording);

// The longest run of one phase in [from, to); empty (first == second) where none.
std::pair<std::size_t, std::size_t> longest_run(const Phases& phases, Phase phase, std::size_t from, std::size_t to);

}  // namespace evenbeam::acceptance
