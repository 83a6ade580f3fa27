#pragma once
// The words for what a disk refuses: path, reason, what to do. Shared by the real disk and its twin for tests.
#include <cstddef>
#include <string>

#include "base/input_error.h"

namespace evenbeam::base {

Trouble reading_trouble(const std::string& path, int error_number);
Trouble writing_trouble(const std::string& path, int error_number, std::size_t bytes);

}  // namespace evenbeam::base
