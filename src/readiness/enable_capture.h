#pragma once
// A capture of kind `enabling`: servo-off, servo-on, or both, at rest. Off: both outputs exactly zero from some
// sample on; on: the first output after that. What is read from it, all means over short quiet stretches:
//   released = skew at the end of the off time - skew before it;  sag = the same of the mean position;
//   jump = reference - position of each side at the sample of enable, its half sum and difference;
//   kick = largest |output - mean output later| in the 0.1 s after enable;  moved = largest change of position then.
// Doubt of a mean of counts: one count.
#include <optional>
#include <string>
#include <vector>

#include "recording/recording.h"

namespace evenbeam::readiness {

struct ServoOff {
  double at_s = 0, until_s = 0;  // off time seen
  double off_a_s = 0, off_b_s = 0;
  double fight_before_n = 0, sum_before_n = 0;  // commanded newtons that were held
  double released_m = 0, largest_m = 0;         // of the skew: at the end, and on the way
  double sag_m = 0;                             // of the mean position
};
struct ServoOn {
  double at_s = 0, on_a_s = 0, on_b_s = 0;
  std::optional<double> jump_mean_m, jump_skew_m;  // nullopt: no references on record
  double kick_a_n = 0, kick_b_n = 0;
  double moved_mean_m = 0, moved_skew_m = 0;
};
struct EnableCapture {
  const recording::Recording* recording = nullptr;
  double doubt_m = 0;  // of a skew or jump
  std::optional<ServoOff> off;
  std::optional<ServoOn> on;
};
// Of all captures of kind `enabling` with positions and outputs of both sides. The recordings outlive them.
std::vector<EnableCapture> enable_captures(const std::vector<recording::Recording>& recordings);

}  // namespace evenbeam::readiness
