#pragma once
// What the program says about its own use, as plain data (command_line.h fills it from the declarations that
// also read the command line), and the forms it is handed out in: man page and completion for three shells.
#include <string>
#include <vector>

namespace evenbeam::cli {

struct Example {
  std::string line;  // "evenbeam next press-7"
  std::string what;  // what it is for, few words
};

// One option ("--json"), or one place among the arguments ("DIR").
struct Argument {
  std::string name;
  std::string value;  // FOLDER, FILE, TEXT, INT ...; empty: a flag
  std::string what;
  std::vector<std::string> choices;  // values worth offering; empty: any
  bool required = false;
};

struct CommandManual {
  std::string name, what;
  std::vector<Example> examples;
  std::vector<Argument> places, options;  // places in their order
};

struct Manual {
  std::string version;                                            // "evenbeam 0.1.0"
  std::string about, exits;                                       // paragraphs
  std::vector<std::pair<std::string, std::string>> surroundings;  // environment variable, what it does
  std::vector<CommandManual> commands;
};

// The lines below a command's --help.
std::string examples_text(const std::vector<Example>& examples);

std::string man_page(const Manual& manual);         // section 1, for man(7) macros
std::string bash_completion(const Manual& manual);  // for bash's complete, without the bash-completion package
std::string zsh_completion(const Manual& manual);   // a function _evenbeam for compsys
std::string fish_completion(const Manual& manual);

// One of the above by its name: man, bash, zsh, fish. base::InputError where it is none of them.
std::string manual_in_form(const Manual& manual, const std::string& form);
const std::vector<std::string>& manual_forms();

}  // namespace evenbeam::cli
