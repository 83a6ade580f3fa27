#pragma once
// Moves the event model on from event to event. Private to this room.
#include "protection/mode_law.h"

namespace evenbeam::protection {

// What a step met at its end.
enum class Met { length, stops_a, stops_b, breaks_a, breaks_b, clip_a, clip_b, skew_trip, following_trip };

struct Levels {
  double skew_m = 0, following_m = 0;  // of the feedback as read; infinite = not watched
};
struct Step {
  Series series;
  double length_s = 0;
  Met met = Met::length;
};
// One step of at most `longest_s`, ended at the first event. Applies the event to state and mode.
Step advance(const EventModel& model, Mode& mode, State& state, double longest_s, const Levels& levels);

// After any change of outputs, brakes or clips: who stands that may not, and whose clip is no longer so.
void settle_mode(const EventModel& model, Mode& mode, State& state);
// Commanded newtons before the clip.
Watched watched_at(const EventModel& model, const Mode& mode, const State& state);

// Largest |skew| over the step and when, seconds into it; `least` where the step cannot show more than that.
struct Peak {
  double size = 0, at_s = 0;
};
Peak largest_skew(const Step& step, double least);

}  // namespace evenbeam::protection
