#pragma once
// Distance-coded reference marks: two neighbours met tell the place. Fixed marks stand at k N signal periods, between
// them the coded mark k at k N + N/2 + (k + 1). With M periods from the first mark met to the second and D = +-1 the
// direction of travel, B = 2 M - N,
//   place of the first mark = (|B| - sgn B - 1) N/2 + (sgn B - sgn D) M/2   periods   [common practice, no source;
//   derived from the scale above, and held against it by brute force in checks/homing/coded_marks_check.cpp]
// A place without an answer (B = 0, or one beyond the code) gives nullopt.
#include <optional>

namespace evenbeam::homing {

// N > 0 even; M > 0.
std::optional<long> first_coded_mark(long fixed_spacing, long met_apart, int direction);

}  // namespace evenbeam::homing
