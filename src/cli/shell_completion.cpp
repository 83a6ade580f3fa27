#include <fmt/format.h>
#include <fmt/ranges.h>

#include "cli/manual.h"

namespace evenbeam::cli {
namespace {

// Inside single quotes of a shell.
std::string quoted(const std::string& text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

std::string words_of(const std::vector<Argument>& options) {
  std::vector<std::string> names;
  for (const Argument& option : options) names.push_back(option.name);
  return fmt::format("{}", fmt::join(names, " "));
}

// What bash shall offer for a value.
std::string bash_offer(const Argument& one) {
  if (!one.choices.empty()) return fmt::format("-W {}", quoted(fmt::format("{}", fmt::join(one.choices, " "))));
  if (one.value == "FOLDER") return "-d";
  return one.value == "FILE" ? "-f" : "";
}

std::string bash_command(const CommandManual& command) {
  std::string text = fmt::format("    {})\n      case \"$previous\" in\n", command.name);
  for (const Argument& option : command.options)
    if (!option.value.empty())
      text += fmt::format("        {}) offer={}; value=1 ;;\n", option.name, quoted(bash_offer(option)));
  const std::string place = command.places.empty() ? "" : bash_offer(command.places.front());
  return text +
         fmt::format("      esac\n      options={}; place={} ;;\n", quoted(words_of(command.options)), quoted(place));
}

std::string zsh_action(const Argument& one) {
  if (!one.choices.empty()) return fmt::format("({})", fmt::join(one.choices, " "));
  if (one.value == "FOLDER") return "_files -/";
  return one.value == "FILE" ? "_files" : " ";
}

// Brackets and colons have a meaning to _arguments.
std::string zsh_words(const std::string& text) {
  std::string out;
  for (const char c : text) out += c == '[' || c == ']' || c == ':' ? std::string("\\") + c : std::string(1, c);
  return out;
}

std::string zsh_command(const CommandManual& command) {
  std::string text = fmt::format("    {})\n      _arguments", command.name);
  for (const Argument& option : command.options)
    text += " \\\n        " + quoted(option.value.empty()
                                         ? fmt::format("{}[{}]", option.name, zsh_words(option.what))
                                         : fmt::format("*{}[{}]:{}:{}", option.name, zsh_words(option.what),
                                                       option.value, zsh_action(option)));
  for (const Argument& place : command.places)
    text +=
        " \\\n        " + quoted(fmt::format("{}{}:{}", place.required ? ":" : "::", place.name, zsh_action(place)));
  return text + " ;;\n";
}

}  // namespace

std::string bash_completion(const Manual& manual) {
  std::string commands, cases;
  for (const CommandManual& command : manual.commands) {
    commands += command.name + " ";
    cases += bash_command(command);
  }
  return "# Completion of evenbeam for bash; written by `evenbeam manual bash`.\n_evenbeam() {\n"
         "  local word=\"${COMP_WORDS[COMP_CWORD]}\" previous=\"${COMP_WORDS[COMP_CWORD-1]}\"\n"
         "  local options='' place='' offer='' value=0\n  COMPREPLY=()\n"
         "  if [ \"$COMP_CWORD\" = 1 ]; then\n    COMPREPLY=($(compgen -W '" +
         commands + "--help --version' -- \"$word\"))\n    return\n  fi\n  case \"${COMP_WORDS[1]}\" in\n" + cases +
         "  esac\n"
         "  if [ \"$value\" = 0 ]; then\n    case \"$word\" in\n      -*) offer=\"-W '$options --help'\" ;;\n"
         "      *) offer=\"$place\" ;;\n    esac\n  fi\n  [ -n \"$offer\" ] || return\n"
         "  mapfile -t COMPREPLY < <(eval \"compgen $offer -- \\\"\\$word\\\"\")\n"
         "}\ncomplete -o filenames -F _evenbeam evenbeam\n";
}

std::string zsh_completion(const Manual& manual) {
  std::string commands, cases;
  for (const CommandManual& command : manual.commands) {
    commands += "    " + quoted(fmt::format("{}:{}", command.name, zsh_words(command.what))) + "\n";
    cases += zsh_command(command);
  }
  return "#compdef evenbeam\n# Completion of evenbeam for zsh; written by `evenbeam manual zsh`.\nlocal -a "
         "evenbeam_commands\n"
         "if (( CURRENT == 2 )); then\n  evenbeam_commands=(\n" +
         commands +
         "  )\n  _describe command evenbeam_commands\nelse\n  shift words\n  (( CURRENT-- ))\n  case $words[1] in\n" +
         cases + "  esac\nfi\n";
}

std::string fish_completion(const Manual& manual) {
  std::string text = "# Completion of evenbeam for fish; written by `evenbeam manual fish`.\n";
  for (const CommandManual& command : manual.commands) {
    text += fmt::format("complete -c evenbeam -n __fish_use_subcommand -f -a {} -d {}\n", command.name,
                        quoted(command.what));
    for (const Argument& option : command.options) {
      text += fmt::format("complete -c evenbeam -n '__fish_seen_subcommand_from {}' -l {} -d {}", command.name,
                          option.name.substr(2), quoted(option.what));
      if (!option.choices.empty())
        text += fmt::format(" -x -a {}", quoted(fmt::format("{}", fmt::join(option.choices, " "))));
      else if (option.value == "FOLDER")
        text += " -x -a '(__fish_complete_directories)'";
      else if (!option.value.empty())
        text += " -r";
      text += "\n";
    }
  }
  return text;
}

}  // namespace evenbeam::cli
