#pragma once
// Inner part of modes.h: the lines of a response that modes are sought on, weighed and freed of their delay.
#include <cstddef>
#include <vector>

#include "signal/modes.h"
#include "signal/vector_fit.h"

namespace evenbeam::signal {

// Indices into the response: those of the band with coherence, thinned evenly on a logarithmic scale.
std::vector<std::size_t> choose_lines(const Response& response, const ModeOptions& options);
// Accelerance without the delay, each entry weighed by its standard deviation and what a model is allowed to miss.
RationalData mode_data(const Response& response, const std::vector<std::size_t>& lines, double delay_s,
                       const ModeOptions& options);
// The delay with the least error: a coarse scan at a middling order, then golden section around the best.
double mode_delay(const Response& response, const std::vector<std::size_t>& lines, const ModeOptions& options);

}  // namespace evenbeam::signal
