#pragma once
// Taking out the skew, as a finding and a figure; `played` on the virtual gantry where its loops are known.
#include <optional>

#include "base/figure.h"
#include "base/finding.h"
#include "homing/take_out_replay.h"

namespace evenbeam::homing {

base::Finding take_out_finding(const TakeOut& take_out, const TakeOutInput& input,
                               const std::optional<TakeOutRun>& played);
base::Figure take_out_figure(const TakeOut& take_out, const TakeOutInput& input,
                             const std::optional<TakeOutRun>& played);

}  // namespace evenbeam::homing
