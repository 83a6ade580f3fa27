#pragma once
// One look: a fault run at one instant and place, and noted with the worst of its pair. Private to this room;
// search.h says what is looked at.
#include "protection/search.h"

namespace evenbeam::protection {

// Runs and notes; gives the peak.
double look(Worst& worst, const OrdinaryMove& ordinary, const Scenario& scenario);
// Every border of the reference's phases and between, at one place, under each reaction: `worst`, of one fault.
void look_over(std::vector<Worst>& worst, const OrdinaryMove& place, const SearchOptions& options);
// Looks where there is most room for a larger peak, at most so many times.
void look_between(Worst& worst, int most);

}  // namespace evenbeam::protection
