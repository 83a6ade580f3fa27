#include "cli/manual.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "base/input_error.h"

namespace evenbeam::cli {
namespace {

// Text for roff: a backslash, a minus that must stay one, a full stop or quote that would begin a request.
std::string roff(const std::string& text) {
  std::string out;
  bool at_start = true;
  for (const char c : text) {
    if (at_start && (c == '.' || c == '\'')) out += "\\&";
    if (c == '\\')
      out += "\\e";
    else if (c == '-')
      out += "\\-";
    else
      out += c;
    at_start = c == '\n';
  }
  return out;
}

std::string signature(const Argument& one) {
  return one.value.empty() ? one.name : fmt::format("{} {}", one.name, one.value);
}

void add_arguments(const std::vector<Argument>& arguments, bool places, std::string& page) {
  for (const Argument& one : arguments)
    page += fmt::format(".TP\n\\fB{}\\fR\n{}{}\n", roff(places ? one.name : signature(one)), roff(one.what),
                        places || !one.required ? "" : " (required)");
}

std::string places_line(const CommandManual& command) {
  std::string line;
  for (const Argument& place : command.places)
    line += place.required ? " " + place.name : fmt::format(" [{}]", place.name);
  return line;
}

void add_command(const CommandManual& command, std::string& page) {
  page += fmt::format(".SS evenbeam {}{}\n{}.\n", roff(command.name), roff(places_line(command)), roff(command.what));
  add_arguments(command.places, true, page);
  add_arguments(command.options, false, page);
  page += ".PP\n";
  for (const Example& example : command.examples)
    page += fmt::format(".EX\n    {}\n.EE\n.RS 8\n{}\n.RE\n", roff(example.line), roff(example.what));
}

}  // namespace

std::string examples_text(const std::vector<Example>& examples) {
  std::size_t width = 0;
  for (const Example& example : examples) width = std::max(width, example.line.size());
  std::string text = examples.size() == 1 ? "Example:" : "Examples:";
  for (const Example& example : examples) text += fmt::format("\n  {:<{}}  {}", example.line, width, example.what);
  return text;
}

std::string man_page(const Manual& manual) {
  std::string page = fmt::format(".TH EVENBEAM 1 \"\" \"{}\" \"\"\n", manual.version);
  page += ".SH NAME\nevenbeam \\- commissioning bench for dual\\-drive gantries\n";
  page += ".SH SYNOPSIS\n\\fBevenbeam\\fR \\fICOMMAND\\fR [arguments] [options]\n";
  page += fmt::format(".SH DESCRIPTION\n{}\n.SH COMMANDS\n", roff(manual.about));
  for (const CommandManual& command : manual.commands) add_command(command, page);
  page += fmt::format(".SH EXIT STATUS\n{}\n.SH ENVIRONMENT\n", roff(manual.exits));
  for (const auto& [name, what] : manual.surroundings) page += fmt::format(".TP\n\\fB{}\\fR\n{}\n", name, roff(what));
  page +=
      ".SH FILES\nEverything is kept in the job folder, or below the folder named by \\-\\-results. Nothing is "
      "stored\n"
      "in the home folder, and nothing leaves the computer.\n";
  return page;
}

const std::vector<std::string>& manual_forms() {
  static const std::vector<std::string> forms{"man", "bash", "zsh", "fish"};
  return forms;
}

std::string manual_in_form(const Manual& manual, const std::string& form) {
  if (form == "man") return man_page(manual);
  if (form == "bash") return bash_completion(manual);
  if (form == "zsh") return zsh_completion(manual);
  if (form == "fish") return fish_completion(manual);
  throw base::InputError({.file = "manual " + form,
                          .found = "no such form",
                          .expected = fmt::format("one of {}", fmt::join(manual_forms(), ", ")),
                          .next = "Nothing was written."});
}

}  // namespace evenbeam::cli
