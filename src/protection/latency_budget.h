#pragma once
// How late a reaction may come: the largest time from "seen" to "outputs changed" at which the fault stays inside the
// limit. Latencies are tried upwards from 0.2 ms (a larger one may by chance be kinder), the first that fails is
// narrowed; what comes out is tried at all coarse places, sides and ways, and lowered where one of them fails.
#include <optional>

#include "protection/search.h"

namespace evenbeam::protection {

inline constexpr double longest_latency_s = 0.5;

// nullopt: not held even without latency; longest_latency_s: held that long or longer.
std::optional<double> latency_budget_s(const SearchRange& range, const Worst& worst, const SearchOptions& options,
                                       double limit_m, int& runs);

// Whether the scenario's place, side and way keep inside the limit at every instant looked at and at its own.
bool holds_at_all_instants(const OrdinaryMove& place, Scenario scenario, double limit_m, int& runs);

}  // namespace evenbeam::protection
