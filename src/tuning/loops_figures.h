#pragma once
// Figures of station loops: the share along the carriage's travel, the sensitivity over frequency, the structures.
#include "base/figure.h"
#include "tuning/loops_report.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

base::Figure share_figure(const machine::Machine& machine, const identification::Identified& identified,
                          const Proposal& proposal);
base::Figure sensitivity_figure(const identification::Identified& identified, const machine::Machine& machine,
                                const Proposal& proposal);

// Skew error of one move under the four structures at the same robustness, bare and informed.
base::Figure structures_figure(const LoopsReport& report);

}  // namespace evenbeam::tuning
