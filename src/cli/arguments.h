#pragma once
// The command line: which command, with which options.
#include "cli/console.h"

namespace evenbeam::cli {

// Runs the command named by the arguments and returns its exit code. --help and --version print and return 0; a wrong
// command line prints what is wrong and returns 3.
int run(int argc, const char* const* argv, Console& console);

}  // namespace evenbeam::cli
