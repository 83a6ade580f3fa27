// The front door: the only place where bad input and our own bugs end.
#include <fmt/format.h>

#include <cstdlib>
#include <exception>
#include <iostream>

#include "base/check.h"
#include "base/input_error.h"
#include "base/terminal.h"
#include "cli/arguments.h"
#include "cli/commands.h"

namespace {

int run_and_flush(int argc, char** argv, evenbeam::cli::Console& console) {
  const int code = evenbeam::cli::run(argc, argv, console);
  console.out.flush();
  if (!console.out)
    throw evenbeam::base::InputError({.file = "standard output",
                                      .found = "a full disk or a closed pipe",
                                      .expected = "to print the answer",
                                      .next = "Results that were named as written are whole."});
  return code;
}

}  // namespace

int main(int argc, char** argv) {
  using namespace evenbeam;
  const bool colour = base::output_is_terminal() && std::getenv("NO_COLOR") == nullptr;
  cli::Console console{std::cout, std::cerr, colour};
  try {
    return run_and_flush(argc, argv, console);
  } catch (const base::InputError& error) {
    std::cerr << error.what() << std::endl;
    return cli::kExitInputError;
  } catch (const base::Bug& bug) {
    std::cerr << "This is a fault of the program itself, not of your input; please report it with the files.\n"
              << bug.what() << std::endl;
  } catch (const std::exception& error) {
    std::cerr << "This is a fault of the program itself, not of your input; please report it with the files.\n"
              << error.what() << std::endl;
  }
  return cli::kExitBug;
}
