#pragma once
// What station loops found, in sentences that a mechanic can act on.
#include <vector>

#include "base/finding.h"
#include "tuning/loops_report.h"

namespace evenbeam::tuning {

base::Finding no_settings_finding(const identification::Identified& identified, const Proposal& proposal);
std::vector<base::Finding> loops_findings(const std::vector<recording::Recording>& recordings,
                                          const machine::Machine& machine,
                                          const identification::Identified& identified, const LoopsReport& report);

}  // namespace evenbeam::tuning
