#include "cli/arguments.h"

#include <ostream>

#include "cli/command_line.h"

namespace evenbeam::cli {

int run(int argc, const char* const* argv, Console& console) {
  CommandLine line(console);
  if (argc < 2) {
    console.err << line.app.help();
    return kExitInputError;
  }
  try {
    line.app.parse(argc, argv);
    return line.code;
  } catch (const CLI::ParseError& error) {
    const bool asked = error.get_exit_code() == static_cast<int>(CLI::ExitCodes::Success);
    line.app.exit(error, console.out, console.err);
    return asked ? 0 : kExitInputError;
  }
}

}  // namespace evenbeam::cli
