#include "workflow/trial_bounds.h"

#include <fmt/format.h>

#include <cmath>

#include "base/input_error.h"

namespace evenbeam::workflow {

void refuse_trial(const std::string& what, const std::string& found, const std::string& expected,
                  const std::string& next) {
  throw base::InputError({.file = what, .found = found, .expected = expected, .next = next});
}

double trial_within(const char* name, double value, double low, double high) {
  if (std::isfinite(value) && value >= low && value <= high) return value;
  refuse_trial(name, fmt::format("{}", value), fmt::format("{} to {}", low, high), "Nothing was computed.");
}

}  // namespace evenbeam::workflow
