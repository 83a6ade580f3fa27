#pragma once
// Values of station `fit`, in real newtons (nameplate where the scale is unknown). Keys: docs/formats.md.
#include <string>
#include <utility>
#include <vector>

#include "base/finding.h"
#include "identification/identify.h"

namespace evenbeam::identification {

// Below this part of knowledge from data the papers speak, and a parameter counts as untold.
inline constexpr double kTold = 0.5;

using FitValues = std::vector<std::pair<std::string, base::Value>>;

// Needs a motion fit that is done. A parameter that the recordings don't tell is there without a value.
FitValues fit_values(const Identified& identified);

}  // namespace evenbeam::identification
