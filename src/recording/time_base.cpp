#include "recording/time_base.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>

#include "base/input_error.h"
#include "recording/columns.h"

namespace evenbeam::recording {
namespace {

using base::InputError;
using base::Trouble;

// A period that is a whole number of hertz within `tolerance` (relative) is that: the stamps' rounding, not the
// clock.
double at_round_rate(double period_s, double tolerance = 1e-6) {
  const double rate_hz = std::round(1 / period_s);
  return rate_hz >= 1 && std::abs(rate_hz * period_s - 1) < tolerance ? 1 / rate_hz : period_s;
}

// Period of stamps coarser than itself: the slope of a straight line through them, and its standard error from a
// rounding that is even over one coarse step.
struct Slope {
  double period_s = 0, relative_error = 0;
};
Slope slope_of(const std::vector<double>& time_s, double coarse_s) {
  const double n = static_cast<double>(time_s.size()), middle = 0.5 * (n - 1);
  double cross = 0, squares = 0;
  for (std::size_t k = 0; k < time_s.size(); ++k) {
    const double off = static_cast<double>(k) - middle;
    cross += off * (time_s[k] - time_s.front());
    squares += off * off;
  }
  return {cross / squares, coarse_s / std::sqrt(12 * squares) / (cross / squares)};
}

base::Finding finding(const char* id, base::Verdict verdict, std::string text, const std::string& file) {
  base::Finding f;
  f.id = id;
  f.verdict = verdict;
  f.text = std::move(text);
  f.recording = file;
  return f;
}

double largest_stray(const std::vector<double>& time_s, double period_s) {
  double largest = 0;
  for (std::size_t k = 0; k < time_s.size(); ++k)
    largest = std::max(largest, std::abs(time_s[k] - time_s.front() - static_cast<double>(k) * period_s));
  return largest;
}

double rms_stray(const std::vector<double>& time_s, double period_s) {
  double squares = 0;
  for (std::size_t k = 0; k < time_s.size(); ++k) {
    const double off_s = time_s[k] - time_s.front() - static_cast<double>(k) * period_s;
    squares += off_s * off_s;
  }
  return std::sqrt(squares / static_cast<double>(time_s.size()));
}

double smallest_step(const std::vector<double>& time_s) {
  double smallest = std::numeric_limits<double>::infinity();
  for (std::size_t k = 1; k < time_s.size(); ++k)
    if (time_s[k] > time_s[k - 1]) smallest = std::min(smallest, time_s[k] - time_s[k - 1]);
  return smallest;
}

// The period where some rows are missing or doubled: mean of the steps that are near the median step.
double usual_step(const std::vector<double>& time_s) {
  const double median_s = median_step(time_s);
  double sum = 0;
  std::size_t count = 0;
  for (std::size_t k = 1; k < time_s.size(); ++k) {
    const double step_s = time_s[k] - time_s[k - 1];
    if (step_s < 0.5 * median_s || step_s > 1.5 * median_s) continue;
    sum += step_s;
    ++count;
  }
  return count > 0 ? sum / static_cast<double>(count) : median_s;
}

// Row k is sample k: no step is doubled or missing and no stamp strays by a third of a period. One row missing or
// doubled anywhere strays by half a period or more at one end.
bool is_even(const std::vector<double>& time_s, double period_s) {
  for (std::size_t k = 1; k < time_s.size(); ++k) {
    const double step_s = time_s[k] - time_s[k - 1];
    if (step_s < 0.25 * period_s || step_s > 1.75 * period_s) return false;
  }
  return largest_stray(time_s, period_s) < 0.3 * period_s;
}

// Mean step; for stamps rounded to `coarse_s` it is known to coarse_s over the whole length.
double mean_step(const std::vector<double>& time_s) {
  return (time_s.back() - time_s.front()) / static_cast<double>(time_s.size() - 1);
}

void refuse_bad_stamps(const std::vector<double>& time_s, const Table& table, const std::string& file) {
  std::vector<Trouble> troubles;
  for (std::size_t k = 0; k < time_s.size() && troubles.size() < 8; ++k) {
    if (std::isnan(time_s[k]))
      troubles.push_back(
          {file, line_of_row(table, k), 0, "no time", "a time stamp in each row", "Complete or remove this line."});
    else if (k > 0 && time_s[k] < time_s[k - 1])
      troubles.push_back({file, line_of_row(table, k), 0,
                          fmt::format("time {:.6g} s after {:.6g} s", time_s[k], time_s[k - 1]),
                          "time that runs forward", "If two captures stand in one file, split it here."});
  }
  if (!troubles.empty()) throw InputError(std::move(troubles));
}

void check_rate(double period_s, double rate_hz, const std::string& file) {
  if (!(rate_hz > 0) || std::abs(period_s * rate_hz - 1) < 1e-3) return;
  throw InputError(Trouble{
      file, 0, 0,
      fmt::format("a time column that steps by {:.6g} s beside a stated rate of {:.6g} Hz", period_s, rate_hz),
      "the same rate from both",
      fmt::format(
          "Correct `rate` or `time_unit` in recordings.toml under [files.\"{}\"], or set the time column to ignored.",
          file)});
}

void report_jitter(TimeBase& base, double jitter_s, double worst_s, const std::string& file) {
  if (worst_s <= 0.05 * base.period_s) return;
  auto f =
      finding("import_jitter", base::Verdict::attention,
              fmt::format("Time stamps stray from an even base by {:.3g} us RMS, {:.3g} us at most ({:.2g} periods). "
                          "The samples were taken as even; whether the stamps or the samples stray cannot be told.",
                          jitter_s * 1e6, worst_s * 1e6, worst_s / base.period_s),
              file);
  f.value = jitter_s;
  f.unit = "s";
  f.limit = 0.05 * base.period_s;
  f.source = "own rule: a twentieth of a period";
  f.next = "Record in the controller's own cycle, not over a network, where fast motion is to be judged.";
  base.findings.push_back(f);
}

void report_coarse_stamps(TimeBase& base, double coarse_s, const std::string& file) {
  auto f = finding(
      "import_coarse_time", base::Verdict::pass,
      fmt::format(
          "Time is written in steps of {:.4g} s, coarser than the {:.4g} s between rows; rows were taken as even.",
          coarse_s, base.period_s),
      file);
  f.value = coarse_s;
  f.unit = "s";
  base.findings.push_back(f);
}

// What happened while rows were placed.
struct Placing {
  std::size_t gaps = 0, missing = 0, repeats = 0;
  double widest_s = 0, first_gap_s = 0, squares_s2 = 0, worst_s = 0;
};

void report_placing(TimeBase& base, const Placing& p, const std::string& file) {
  if (p.gaps > 0) {
    auto f = finding(
        "import_gaps", base::Verdict::attention,
        fmt::format("{} gaps in the time column, {} samples missing, the widest {:.4g} s; they are kept as missing.",
                    p.gaps, p.missing, p.widest_s),
        file);
    f.value = static_cast<double>(p.missing);
    f.unit = "1";
    f.from_s = p.first_gap_s;
    f.next = "Record again with a slower rate or fewer signals if the gaps fall into the motion.";
    base.findings.push_back(f);
  }
  if (p.repeats > 0) {
    auto f = finding("import_repeats", base::Verdict::attention,
                     fmt::format("{} rows repeat the time stamp before them and were left out.", p.repeats), file);
    f.value = static_cast<double>(p.repeats);
    f.unit = "1";
    f.next = "Look at how the recorder writes its stamps before trusting velocities from this file.";
    base.findings.push_back(f);
  }
  const double rows = static_cast<double>(base.place_of_row.size());
  report_jitter(base, std::sqrt(p.squares_s2 / rows), p.worst_s, file);
}

void place_rows(TimeBase& base, const std::vector<double>& time_s, const Table& table, const std::string& file) {
  Placing p;
  std::size_t next = 0, anchor = 0;
  base.place_of_row.resize(time_s.size());
  double anchor_s = base.start_s;  // rows are placed from the last gap on, so that a slow clock does not make gaps
  const double most_missing = 10.0 * static_cast<double>(time_s.size());  // beyond, memory goes for nothing
  for (std::size_t k = 0; k < time_s.size(); ++k) {
    const double step_s = k ? time_s[k] - time_s[k - 1] : 0;
    if (k && step_s < 0.25 * base.period_s) {
      base.place_of_row[k] = kDropped;
      ++p.repeats;
      continue;
    }
    if (step_s > 1.5 * base.period_s) {
      const double skipped = std::round(step_s / base.period_s) - 1;
      if (skipped + static_cast<double>(p.missing) > most_missing)
        throw InputError(Trouble{file, line_of_row(table, k), 0, fmt::format("a gap of {:.6g} s", step_s),
                                 "one capture without long pauses",
                                 "If two captures stand in one file, split it here."});
      if (p.gaps++ == 0) p.first_gap_s = time_s[k - 1];
      p.missing += static_cast<std::size_t>(skipped);
      p.widest_s = std::max(p.widest_s, step_s);
      next += static_cast<std::size_t>(skipped);
      anchor_s = time_s[k];
      anchor = next;
    }
    const double off_s = time_s[k] - anchor_s - static_cast<double>(next - anchor) * base.period_s;
    p.squares_s2 += off_s * off_s;
    p.worst_s = std::max(p.worst_s, std::abs(off_s));
    base.place_of_row[k] = next++;
  }
  base.samples = next;
  report_placing(base, p, file);
}

}  // namespace

TimeBase make_time_base(const std::vector<double>& time_s, double rate_hz, const Table& table,
                        const std::string& file) {
  TimeBase base;
  base.samples = table.rows;
  if (time_s.empty()) {
    base.period_s = 1 / rate_hz;
    return base;
  }
  if (table.rows < 3)
    throw InputError(
        Trouble{file, 0, 0, fmt::format("{} rows", table.rows), "at least three rows", "Record for longer."});
  refuse_bad_stamps(time_s, table, file);
  base.start_s = time_s.front();
  const double mean_s = mean_step(time_s), coarse_s = smallest_step(time_s);
  if (!(mean_s > 0))
    throw InputError(Trouble{file, 0, 0, "a time column that stands still", "time that runs forward",
                             "Export with finer time, or state the rate and set the time column to ignored."});
  const bool coarse = mean_s < 0.9 * coarse_s && largest_stray(time_s, mean_s) < 1.01 * coarse_s;
  if (coarse || is_even(time_s, mean_s)) {
    if (rate_hz > 0 && std::abs(mean_s * rate_hz - 1) < 1e-3) {
      base.period_s = 1 / rate_hz;
    } else if (coarse) {
      const Slope slope = slope_of(time_s, coarse_s);
      base.period_s = at_round_rate(slope.period_s, std::min(4 * slope.relative_error, 1e-3));
    } else {
      base.period_s = at_round_rate(mean_s);
    }
    check_rate(base.period_s, rate_hz, file);
    if (coarse)
      report_coarse_stamps(base, coarse_s, file);
    else
      report_jitter(base, rms_stray(time_s, mean_s), largest_stray(time_s, mean_s), file);
    return base;
  }
  base.period_s = at_round_rate(usual_step(time_s));
  check_rate(base.period_s, rate_hz, file);
  place_rows(base, time_s, table, file);
  return base;
}

std::vector<double> placed(const std::vector<double>& column, const TimeBase& base) {
  if (base.place_of_row.empty()) return column;
  std::vector<double> even(base.samples, std::numeric_limits<double>::quiet_NaN());
  for (std::size_t k = 0; k < column.size(); ++k)
    if (base.place_of_row[k] != kDropped) even[base.place_of_row[k]] = column[k];
  return even;
}

}  // namespace evenbeam::recording
