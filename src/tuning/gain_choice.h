#pragma once
// From the textbook settings to the searched ones: which lines the search sees, and rounds of search and check.
// Internal to tuning.
#include "tuning/tuning_basis.h"

namespace evenbeam::tuning {

// Fills settings, scores and `searched` where what was found holds; else the textbook's stay.
void search_from_textbook(Proposal& out, const Basis& basis, const machine::Machine& machine,
                          const ProposalOptions& options);

}  // namespace evenbeam::tuning
