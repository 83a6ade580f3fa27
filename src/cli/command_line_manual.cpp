// What the declarations say of themselves, as plain data for man page and completion.
#include "cli/command_line.h"

namespace evenbeam::cli {
namespace {

Argument argument_of(const CLI::Option& option, const std::vector<std::string>& choices) {
  const bool place = !option.nonpositional();
  return {.name = place ? option.get_name(true) : "--" + option.get_lnames().front(),
          .value = option.get_items_expected_max() == 0 ? "" : option.get_type_name(),
          .what = option.get_description(),
          .choices = choices,
          .required = option.get_required()};
}

}  // namespace

Manual CommandLine::manual() const {
  Manual manual{
      .version = program_name(),
      .about = app.get_description(),
      .exits = app.get_footer(),
      .surroundings = {{"NO_COLOR", "Where set and not empty, no colours; a pipe or a file gets none anyway."},
                       {"TMPDIR", "Where the PDF is made before it is moved to its place; /tmp if unset."},
                       {"PATH", "Is searched for a Chromium that prints the PDF."}}};
  for (const CLI::App* command : app.get_subcommands([](const CLI::App*) { return true; })) {
    CommandManual one{command->get_name(), command->get_description(), examples.at(command), {}, {}};
    for (const CLI::Option* option : command->get_options()) {
      if (option == command->get_help_ptr()) continue;
      const auto offered = choices.find(option);
      (option->nonpositional() ? one.options : one.places)
          .push_back(argument_of(*option, offered == choices.end() ? std::vector<std::string>{} : offered->second));
    }
    manual.commands.push_back(std::move(one));
  }
  return manual;
}

}  // namespace evenbeam::cli
