#pragma once
// The four structures (servo/structures.h) on equal terms: the same feed-forward, share, velocity filter and textbook
// rule, each drawn back by one stretch until the same peak sensitivity holds at every carriage place and payload
// looked at; then the same move. Without searched filters: what is compared is the structure.
//   independent, follower: a side's loop takes half the mass; cross-coupled: the sides' loops softer than they
//   could be alone, the skew loop as stiff as the promise then lets it be; the best of three for the move.
// Stretch is lowered from very soft in small steps while the sensitivity stays below the limit, so that no eigenvalue
// crosses the circle on the way but between two steps.
#include <string>
#include <vector>

#include "servo/structures.h"
#include "tuning/loops_forecasts.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

std::string name_of(servo::Structure structure);

// F = -C [x_A, x_B] of a structure at one frequency.
math::Complex2x2 response(const servo::StructureLaw& law, double angular_rad_per_s);
PeakSensitivity peak_sensitivity(const PlantLines& plant, const servo::StructureSettings& settings);

struct StructureResult {
  servo::Structure structure = servo::Structure::mean_skew;
  bool found = false;
  double stretch = 0;
  double peak_sensitivity = 0;  // worst of the cases
  servo::StructureSettings settings;
  MoveForecast bare;      // no share but one half, no friction feed-forward: what the structure itself does
  MoveForecast informed;  // with share and friction feed-forward
};
// Of one move; `limit` is the sensitivity they all keep.
std::vector<StructureResult> compare_structures(const ForecastMove& move,
                                                const identification::Identified& identified,
                                                const machine::Machine& machine, const Proposal& proposal,
                                                double limit, ForecastOptions options);

}  // namespace evenbeam::tuning
