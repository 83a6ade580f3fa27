#include "base/clock.h"

#include <fmt/chrono.h>

#include <chrono>

namespace evenbeam::base {

std::string utc_now() {
  const std::time_t now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(now));
}

}  // namespace evenbeam::base
