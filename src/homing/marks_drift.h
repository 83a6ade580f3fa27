#pragma once
// Searches at different temperatures: how far the marks' difference b - a moves with each kelvin, and the change of
// temperature after which it leaves what is allowed. Straight line through all runs by least squares,
//   b - a = c + k T,   sd of k from the scatter of the runs, Student n - 2, not below what the runs' own doubts give;
// search again after  dT = band/|k|,  the small end of its interval with the large end of |k|; never more than the
// change that was seen, since nobody knows what lies beyond.
#include <optional>
#include <string>
#include <vector>

#include "base/finding.h"
#include "homing/marks.h"

namespace evenbeam::homing {

struct MarksDrift {
  bool known = false;
  std::string reason;  // why not; empty where no search states a temperature
  int runs = 0;
  double from_k = 0, to_k = 0;
  math::Estimate per_k;  // m a kelvin
};
// Temperatures: by the recordings' names as the runs have them.
MarksDrift marks_drift(const std::vector<SearchRun>& runs, const std::vector<recording::Recording>& recordings);

struct SearchAgain {
  double after_k = 0;              // nothing larger is promised
  bool within_seen = false;        // the band is kept over all that was seen
  std::optional<double> likely_k;  // with the drift as found
};
SearchAgain search_again(const MarksDrift& drift, double band_m);

// nullopt where no search states a temperature. `band_m`: how far b - a may move, and where that comes from.
std::optional<base::Finding> drift_finding(const MarksDrift& drift, double band_m, const std::string& band_from);

}  // namespace evenbeam::homing
