#pragma once
// Runs of the virtual gantry that make the captures of a commissioning, one kind at a time: what a recorder at the
// controller would have kept. Everything drawn (places, racking at switch-on, phases, noise) comes from the seed.
//   one switch-on "main": scales are zero where the bridge stood, racked by part of what friction holds;
//   "referenced", for the test moves: zero at the stress-free attitude, as after a search;
//   each drive alone, before the bridge is connected: its stated mass, half of the side's friction;
//   servo-off and servo-on: a skew that friction does not hold, let go, the actual position taken over;
//   searches: a switch-on each, with other places and racks, marks latched where the true end passes them.
// Marks lie where the seed puts them. Assumes the virtual machine's plant is the truth; noise of a fifth of a count.
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "recording/recording.h"
#include "rehearsal/consequence.h"
#include "rehearsal/defects.h"

namespace evenbeam::rehearsal {

enum class Take { standstill, push, multisine, jog, search, move, skew_step, fault, one_side, enabling };
inline constexpr int takes = 10;
std::string to_text(Take take);  // "skew-step", ...
std::optional<Take> take_of(const std::string& text);

struct CaptureInput {
  VirtualMachine machine;
  Amounts amounts;
  std::optional<machine::Settings> proposed;  // test moves run under them, all else under the soft loops
  TiedMove move;
  std::optional<double> payload_max_kg;
  std::optional<double> allowable_skew_m;
  std::uint64_t seed = 1;
  int multisine_repeats = 8;
  int multisine_draws = 20;  // trajectory::Multisine
  double jog_way_m = 0;      // > 0: the jog ends with this way there and back at `jog_speed_m_per_s`
  double jog_speed_m_per_s = 0.2;
  std::vector<Defects> defects;  // what is broken, and in which runs
  double clock_s = 0;            // since the first capture; set by make_captures
};

// Places of both marks along x, true; the bridge was switched on near zero.
struct TrueMarks {
  double a_m = 0, b_m = 0;
};
TrueMarks marks_of(const CaptureInput& input);
double main_rack_m(const CaptureInput& input);  // true skew at the main switch-on

struct SimulatedCapture {
  std::string file, what;
  recording::RunKind kind = recording::RunKind::unknown;
  recording::Excited excited = recording::Excited::unknown;
  double excitation_period_s = 0;
  std::string switch_on, loops;  // loops: "soft", "proposed"; empty where they were open
  double carriage_y_m = 0, payload_kg = 0;
  bool has_a = true, has_b = true;               // sides that the recorder kept
  int every = 1;                                 // rows kept: each n-th period
  simulation::RunSeries series;                  // every period
  std::vector<double> latched_a_m, latched_b_m;  // searches; NaN until seen
  double zero_a_m = 0, zero_b_m = 0;             // true places where the scales were switched on
};

// `progress` names each file before it is run; returning false ends the list there.
std::vector<SimulatedCapture> make_captures(const CaptureInput& input, Take take,
                                            const std::function<bool(const std::string&)>& progress = {});

}  // namespace evenbeam::rehearsal
