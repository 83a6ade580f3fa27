#pragma once
// What the sides' following errors say beyond their size.
//   spectrum   root mean square of each line, |X_k| sqrt(2)/N, Hann window, its power made up for; means removed
//   reversal   (mean skew error over cruises along +x) - (the same along -x), halved: friction that differs between
//   the
//              sides, or play, turns its sign with the direction; what is left in the mean does not
//   drift      skew and fight in the last rest less those in the first rest at the same place (within 1 % of the
//              stroke), where two such rests are seen: warming, creep, integrators that walk
#include <optional>
#include <vector>

#include "acceptance/move_measures.h"
#include "base/figure.h"

namespace evenbeam::acceptance {

struct Spectrum {
  std::vector<double> hz, rms_m;
};
Spectrum spectrum_of(const std::vector<double>& x, double period_s);

std::optional<double> reversal_skew_m(const MoveMeasures& measures);

struct Drift {
  double skew_m = 0, over_s = 0;
  std::optional<double> fight_n;
};
std::optional<Drift> drift_of(const recording::Recording& recording, const MoveMeasures& measures);

base::Figure spectrum_figure(const recording::Recording& recording, const MoveMeasures& measures);

}  // namespace evenbeam::acceptance
