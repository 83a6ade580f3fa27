#pragma once
// The machine.toml that a new job begins with: every key explained in plain words. All but the span is commented out,
// so that no example passes for a fact; an untouched template is to be met with "fill it in", never with numbers.
#include <string>

namespace evenbeam::machine {

// Text that read_machine() takes as it stands. Lines "#key = value" are examples of optional keys.
std::string machine_template();

// The text is the template as written by us, line ends aside.
bool is_untouched_template(const std::string& text);

}  // namespace evenbeam::machine
