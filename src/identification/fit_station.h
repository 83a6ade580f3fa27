#pragma once
// Station `fit`: the machine's real parameters with intervals, what these recordings cannot tell, and which capture
// would. Values in real newtons (nameplate where the scale is unknown). Keys: docs/formats.md.
#include "base/figure.h"
#include "identification/identify.h"

namespace evenbeam::identification {

base::StationOutcome fit_station(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                                 const Identified& identified);

}  // namespace evenbeam::identification
