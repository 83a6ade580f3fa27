#pragma once
// The machine.toml that a new job begins with: ten lines that matter, and every other key commented out with plain
// words.
#include <string>

namespace evenbeam::machine {

// Text that read_machine() takes as it stands; the numbers in it are examples. Lines "#key = value" are optional
// keys.
std::string machine_template();

}  // namespace evenbeam::machine
