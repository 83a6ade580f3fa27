#pragma once
// The sentences of station `prove`: one function a kind of finding. `slug` makes ids unique to a move.
#include <string>
#include <vector>

#include "acceptance/prove_station.h"

namespace evenbeam::acceptance {

std::string slug(const std::string& recording_name);  // "06-testmove.csv" -> "06_testmove"

base::Finding skew_finding(const JudgedMove& move, const machine::Machine& machine, const ProveInput& input);
base::Finding settling_finding(const JudgedMove& move, const SettleWindow& window);
// Ringing seen, with the conditions broken; or loops that break conditions though nothing rang; empty where neither.
std::vector<base::Finding> loop_findings(const JudgedMove& move);
std::vector<base::Finding> force_findings(const JudgedMove& move, const machine::Machine& machine);
std::vector<base::Finding> forecast_findings(const JudgedMove& move);
// Which move is best and which is worst; needs two moves at least.
base::Finding comparison_finding(const std::vector<JudgedMove>& moves);

}  // namespace evenbeam::acceptance
