#pragma once
// All that station loops found out, before it is put into words, values and figures.
#include <string>
#include <vector>

#include "tuning/loops_forecasts.h"
#include "tuning/margins.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct PlaceMargins {
  std::string where;  // "carriage at -0.85 m, 25 kg", "measured response"
  Margins margins;
};

struct LoopsReport {
  Proposal proposal;
  Forecasts forecasts;
  std::vector<PlaceMargins> margins;  // of the settings proposed: travel ends, middle, measured
};

}  // namespace evenbeam::tuning
