#pragma once
// Two texts of settings.toml, line by line; numbers shown to four digits. Private to this room.
#include <string>
#include <vector>

#include "journal/compare.h"

namespace evenbeam::journal {

// Largest difference of the numbers in two texts over the larger of each two; infinite where the texts differ in
// anything else.
double part_apart(const std::string& before, const std::string& after);

// Those that differ by a hundredth or more, or in words, into `effects`; the others into `unsure`.
void compare_settings(const std::string& before, const std::string& after, Comparison& comparison);

}  // namespace evenbeam::journal
