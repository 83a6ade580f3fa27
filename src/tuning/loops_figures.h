#pragma once
// Figures of station loops: the share along the carriage's travel, and the sensitivity over frequency.
#include "base/figure.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

base::Figure share_figure(const machine::Machine& machine, const identification::Identified& identified,
                          const Proposal& proposal);
base::Figure sensitivity_figure(const identification::Identified& identified, const machine::Machine& machine,
                                const Proposal& proposal);

}  // namespace evenbeam::tuning
