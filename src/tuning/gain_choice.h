#pragma once
// From the textbook settings to the searched ones: which lines the search sees, and rounds of search and check.
// Internal to tuning.
#include <vector>

#include "tuning/tuning_basis.h"

namespace evenbeam::tuning {

// What the search asks of settings (tuning/gain_search.h): the same lines for all of a basis.
std::vector<SearchCase> search_cases(const Basis& basis);

// Fills settings, scores and `searched` where what was found holds; else the textbook's stay.
void search_from_textbook(Proposal& out, const Basis& basis, const machine::Machine& machine,
                          const ProposalOptions& options);

}  // namespace evenbeam::tuning
