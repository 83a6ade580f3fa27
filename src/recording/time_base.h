#pragma once
// From time stamps as they came to a uniform time base: t_k = t_0 + k T, T from the median step, refined over the
// whole recording. Rows that are missing become rows of NaN, repeated stamps are dropped, jitter and rounding are
// told apart from each other and reported. Samples stay where their row says; nothing is interpolated.
#include <string>
#include <vector>

#include "base/finding.h"
#include "recording/table.h"

namespace evenbeam::recording {

struct TimeBase {
  double start_s = 0, period_s = 0;
  std::size_t samples = 0;  // of the uniform base
  std::vector<std::size_t>
      place_of_row;  // sample of each row; kDropped for a repeated stamp; empty = row k is sample k
  std::vector<base::Finding> findings;
};
inline constexpr std::size_t kDropped = static_cast<std::size_t>(-1);

// `time_s` empty = no time column: rate_hz alone makes the base. Throws base::InputError where stamps run backward,
// say another rate than the stated one, or leave more out than they hold.
TimeBase make_time_base(const std::vector<double>& time_s, double rate_hz, const Table& table,
                        const std::string& file);

// A column put on the uniform base, NaN where no row is.
std::vector<double> placed(const std::vector<double>& column, const TimeBase& base);

}  // namespace evenbeam::recording
