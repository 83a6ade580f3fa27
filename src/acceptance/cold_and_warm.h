#pragma once
// The same move cold and warm: recordings with a temperature, paired where strokes, carriage and payload agree (as
// move_plan.h does). Of each pair, the coldest and the warmest:
//   friction of a side  (mean output in cruises along +x) - (the same along -x), halved, commanded newtons
//   peak skew error, standing fight, RMS force of each side
// Friction is that of one speed (viscous part included); a bias drops out.
#include <optional>
#include <vector>

#include "acceptance/prove_station.h"

namespace evenbeam::acceptance {

// nullopt where cruises both ways or outputs are missing.
std::optional<double> cruise_friction_n(const JudgedMove& move, bool side_a);

struct ColdWarm {
  const JudgedMove *cold = nullptr, *warm = nullptr;
  double change_k = 0;
};
// At least 2 K apart (common practice, no source), the pair furthest apart of each kind of move.
std::vector<ColdWarm> cold_and_warm(const machine::Machine& machine, const std::vector<JudgedMove>& moves);

base::Finding cold_warm_finding(const ColdWarm& pair, const machine::Machine& machine);
base::Value cold_warm_rows(const std::vector<ColdWarm>& pairs);

}  // namespace evenbeam::acceptance
