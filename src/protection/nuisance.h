#pragma once
// How much skew ordinary motion shows, so that at most 1 in 10,000 of it would trip: moves at all carriage places and
// payloads, jogs at a tenth of the speed, searches, straightenings; by the event model, and the loops' forecasts.
//   nuisance = p + 3.72 sd + 3 counts      (3.72: one-sided 1 in 10,000 of a normal spread)
//   sd^2 = p^2 (spread^2 + scatter^2 + 0.1^2)
// p the largest peak (times what captured moves show over their own forecast, at least 1), spread that of the peak
// over plants drawn from the fit, scatter that of equal strokes in the captures, a tenth for what the plant leaves
// out (common practice, no source).
#include <string>
#include <vector>

#include "machine/machine.h"
#include "protection/search.h"
#include "recording/recording.h"

namespace evenbeam::protection {

inline constexpr double one_in_10000 = 3.72;  // of a normal spread, one-sided

struct MoveForecast {
  std::string name;
  double peak_skew_m = 0, upper_m = 0;
};
struct Nuisance {
  double peak_skew_m = 0;  // p
  std::string by;          // "move", "jog", "search", "straightening" or the forecast's name
  double spread = 0, scatter = 0, over_forecast = 1;
  double part = 0;             // sd over p
  double straightening_m = 0;  // largest skew error of a straightening, by the event model
  double skew_m = 0;           // result
  double following_m = 0;      // the same for the following error of a side, by the event model alone
};
struct NuisanceInput {
  const SearchRange* range = nullptr;
  std::vector<OrdinaryMove> drawn;  // places of `coarse` with plants drawn from the fit, draw after draw
  std::vector<OrdinaryMove> slow;   // jogs and searches
  std::vector<MoveForecast> forecasts;
  double straightening_m = 0;
  double scatter = 0, over_forecast = 1, count_m = 0;
};
Nuisance nuisance(const NuisanceInput& input);

// Spread of the peaks of equal strokes over their mean, pooled over the test moves; 0 where fewer than two are alike.
double stroke_scatter(const std::vector<recording::Recording>& recordings);
// Largest |skew error| captured over the forecast of the same file; at least 1, at most 3.
double over_own_forecast(const std::vector<recording::Recording>& recordings, const std::vector<MoveForecast>& own);

}  // namespace evenbeam::protection
