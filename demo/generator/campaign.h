#pragma once
// One machine, its papers and the captures that somebody took of it in an afternoon.
#include <optional>
#include <string>
#include <vector>

#include "capture.h"
#include "capture_file.h"
#include "squareness_sheet.h"

namespace generator {

// What the papers say. The truth differs a little, as in life. nullopt = the papers are silent.
struct Papers {
  std::string name;
  std::vector<std::string> remarks;                        // comment lines at the head of machine.toml
  double span_m = 0, bridge_mass_kg = 0, end_mass_kg = 0;  // end and drive masses: of each side
  double carriage_mass_kg = 0, carriage_min_y_m = 0, carriage_max_y_m = 0, payload_max_kg = 0;
  std::string drive = "screw";  // screw, rack, belt, linear_motor
  std::optional<double> lead_m;
  double drive_mass_kg = 0, peak_n = 0;
  double travel_m = 0, speed_m_per_s = 0, acceleration_m_per_s2 = 0, jerk_m_per_s3 = 0;
  double stated_skew_limit_m = 0;
  double guide_spacing_m = 0, guide_static_rating_n = 0;  // two carriages a side; rating of one
};

struct Injection {
  double rms_n = 0, lowest_hz = 1, highest_hz = 300, period_s = 2;
  int periods = 4;
};

struct Campaign {
  TrueGantry truth;
  Papers papers;
  Sensing sensing;
  LoopSettings soft, ringing, better;  // period, peak forces and share set in each
  Ends switch_on;                      // true places where the main switch-on happened; the bridge settles from here
  double push_n = 0, push_s = 0.05, push_rest_s = 0.65;
  Injection injection;
  double injection_speed_m_per_s = 0.03;
  double move_m = 0;
  MoveLimits move_limits;
  double move_start_m = 0;  // true place of the mean where the test moves begin
  double search_speed_m_per_s = 0.02, search_s = 6;
  std::vector<Ends> search_starts;  // true places, one search each; brakes hold them until the loops are on
  double payload_max_kg = 0;
  bool varied_forms = false;  // files as different recorders write them; else all alike
  std::size_t injection_every = 1, move_every = 1, search_every = 1, push_every = 1;  // servo samples a row
  std::optional<TrueSquareness> squareness;                                           // where somebody measured it
  double longest_step_s = 25e-6;
  std::uint64_t seed = 1;
};

struct PlannedCapture {
  std::string file, kind, what;  // what was done, in words
  std::string excited, switch_on;
  std::string loops;  // name of the settings: soft, first, better; empty where loops were open
  TrueGantry gantry;  // carriage and payload as they were
  RunPlan plan;
  FileForm form;
  std::string position_unit;  // where the file itself does not say it
};

std::vector<PlannedCapture> planned_captures(const Campaign& campaign);

// Gains for a machine known from its papers: mean and skew velocity loops of the given crossover on rigid inertia.
LoopSettings simple_loops(const Campaign& campaign, double mean_hz, double skew_hz, double period_s);
// How fast the loops' fast ringing dies, 1/s, the slower of sliding without friction and sticking at rest; 30 where
// it is gone at once, negative where it grows.
double ringing_decay_per_s(const TrueGantry& gantry, const Sensing& sensing, const LoopSettings& loops);

}  // namespace generator
