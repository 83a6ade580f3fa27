#include "base/terminal.h"

#include <unistd.h>

namespace evenbeam::base {

bool output_is_terminal() { return ::isatty(STDOUT_FILENO) == 1; }

}  // namespace evenbeam::base
