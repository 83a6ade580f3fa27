// The front door: the only place where bad input and our own bugs end.
#include <algorithm>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <nlohmann/json.hpp>
#include <string_view>

#include "base/check.h"
#include "base/input_error.h"
#include "base/json.h"
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

// For programs: the troubles as JSON on standard output, beside the words on standard error.
void print_troubles(const evenbeam::base::InputError& error, int argc, char** argv) {
  std::cerr << error.what() << std::endl;
  if (std::find(argv, argv + argc, std::string_view("--json")) == argv + argc) return;
  evenbeam::base::Json list = evenbeam::base::Json::array();
  for (const evenbeam::base::Trouble& trouble : error.troubles())
    list.push_back({{"file", trouble.file},
                    {"line", trouble.line},
                    {"column", trouble.column},
                    {"found", trouble.found},
                    {"expected", trouble.expected},
                    {"next", trouble.next}});
  std::cout << evenbeam::base::to_text(evenbeam::base::Json{{"exit_code", 3}, {"troubles", list}}) << std::endl;
}

}  // namespace

int main(int argc, char** argv) {
  using namespace evenbeam;
  const char* no_colour = std::getenv("NO_COLOR");
  const bool colour = base::output_is_terminal() && (no_colour == nullptr || *no_colour == '\0');
  cli::Console console{std::cout, std::cerr, colour};
  try {
    return run_and_flush(argc, argv, console);
  } catch (const base::InputError& error) {
    print_troubles(error, argc, argv);
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
