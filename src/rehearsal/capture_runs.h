#pragma once
// How a simulated capture begins and is run. Private to this room.
#include <random>

#include "rehearsal/captures.h"

namespace evenbeam::rehearsal {

// Numbers between two bounds, the same for a seed and a purpose.
class Draw {
 public:
  Draw(std::uint64_t seed, std::uint64_t purpose) : bits_(seed * 1000 + purpose) {}
  double between(double low, double high) {
    return low + (high - low) * static_cast<double>(bits_() >> 11) / 9007199254740992.0;
  }

 private:
  std::mt19937_64 bits_;
};

double period_of(const CaptureInput& input);
std::size_t periods(const CaptureInput& input, double time_s);
// With the noise and the least count that a recorder shows; healthy.
simulation::Gantry gantry_of(const CaptureInput& input);
// Largest departure from the stress-free skew that friction may hold on a bridge left standing.
double held_skew_m(const dynamics::Plant& plant);
Target broken_in(const CaptureInput& input, Take take);  // what is broken in these runs from their start

SimulatedCapture begin(const CaptureInput& input, std::string file, recording::RunKind kind, std::string what);
// A closed run under `loops`, called `name`: gantry, carriage, payload, start and seed, without a reference.
simulation::RunDescription closed(const CaptureInput& input, SimulatedCapture& capture,
                                  const machine::Settings& loops, const char* name, std::uint64_t number);
// The run with everything that is broken in it.
simulation::RunSeries run_broken(const CaptureInput& input, Take take, simulation::RunDescription run);
// From rest to `speed` within `ramp_s`, then on for `length_s`.
std::vector<double> creep(const CaptureInput& input, double speed_m_per_s, double ramp_s, double length_s);

SimulatedCapture search_capture(const CaptureInput& input, int number);      // search_captures.cpp
SimulatedCapture drive_alone_capture(const CaptureInput& input, bool on_b);  // drive_alone_captures.cpp

}  // namespace evenbeam::rehearsal
