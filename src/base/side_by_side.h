#pragma once
// Runs task(0) ... task(count - 1) on up to `threads` threads, in no order; the first exception comes out here. Each
// task writes to its own place, so that the result does not depend on the number of threads.
#include <algorithm>
#include <atomic>
#include <cstddef>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>

namespace evenbeam::base {

// What the machine has; at least one.
inline std::size_t machine_threads() { return std::max(1U, std::thread::hardware_concurrency()); }

template <class Task>
void side_by_side(std::size_t count, std::size_t threads, Task task) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr trouble;
  std::mutex guard;
  const auto work = [&] {
    for (std::size_t i = next++; i < count; i = next++) {
      try {
        task(i);
      } catch (...) {
        const std::lock_guard lock(guard);
        if (!trouble) trouble = std::current_exception();
      }
    }
  };
  {
    std::vector<std::jthread> others;
    for (std::size_t i = 1; i < std::min(threads, count); ++i) others.emplace_back(work);
    work();
  }
  if (trouble) std::rethrow_exception(trouble);
}

}  // namespace evenbeam::base
