#pragma once
// The three pictures of station `rehearse`: a push of one side, a search with a dead side, a tied move with the
// carriage at either end. Skew is counted from the stress-free attitude.
#include "rehearsal/rehearse_station.h"

namespace evenbeam::rehearsal {

base::Figure push_figure(const VirtualMachine& machine, const RehearseInput& input);
base::Figure search_figure(const VirtualMachine& machine, const RehearseInput& input);
base::Figure tied_move_figure(const machine::Machine& papers, const VirtualMachine& machine,
                              const RehearseInput& input);

}  // namespace evenbeam::rehearsal
