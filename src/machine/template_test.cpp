#include "machine/template.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "base/input_error.h"
#include "machine/machine_file.h"

namespace evenbeam::machine {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::string text_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

bool is_optional(const std::string& line) { return line.size() > 1 && line[0] == '#' && line[1] != ' '; }
bool is_optional_heading(const std::string& line) { return line.starts_with("#["); }

// The line says the same as another key: "instead of KEY".
bool stands_instead(const std::string& line) { return line.find("# instead of ") != std::string::npos; }

// The keys that the reader knows in a table, from its own message about one it does not know.
std::vector<std::string> known_keys(const std::string& heading) {
  const std::string strange = "zzzzzzzzzzzz = 1\n";
  try {
    read_machine(heading.empty() ? strange : heading + "\n" + strange, "m.toml");
  } catch (const base::InputError& error) {
    for (const base::Trouble& trouble : error.troubles())
      if (trouble.found.find("zzzzzzzzzzzz") != std::string::npos) {
        std::string list = trouble.expected.substr(std::string("one of ").size());
        std::replace(list.begin(), list.end(), ',', ' ');
        std::istringstream words(list);
        std::vector<std::string> keys;
        for (std::string word; words >> word;) keys.push_back(word);
        return keys;
      }
  }
  FAIL("no message about the unknown key");
  return {};
}

}  // namespace

TEST_CASE("the template passes its own check") {
  const Machine machine = read_machine(machine_template(), "machine.toml");
  CHECK(machine.span_m == 2.2);
  CHECK_FALSE(machine.b.peak_force_n);  // no example passes for a fact
  CHECK_FALSE(machine.carriage_mass_kg);
  CHECK(is_untouched_template(machine_template()));
  CHECK_FALSE(is_untouched_template(machine_template() + "#\n"));
  const auto lines = lines_of(machine_template());
  for (const std::string& line : lines) CHECK_MESSAGE(line.size() <= 120, line);
}

TEST_CASE("each optional key of the template can be opened by itself, with the value that stands there") {
  const std::vector<std::string> lines = lines_of(machine_template());
  int opened = 0;
  std::string heading;
  for (size_t i = 0; i < lines.size(); ++i) {
    if (lines[i].starts_with("[")) heading.clear();
    if (is_optional_heading(lines[i])) heading = lines[i].substr(1);
    if (!is_optional(lines[i]) || is_optional_heading(lines[i])) continue;
    if (heading.starts_with("[[")) continue;  // a move needs all its keys; opened in the next test
    std::vector<std::string> changed = lines;
    changed[i] = (heading.empty() ? "" : heading + "\n") + lines[i].substr(1);
    if (lines[i].starts_with("#counts_per_turn"))
      for (std::string& line : changed)
        if (line.starts_with("#lead")) line.erase(0, 1);
    CAPTURE(lines[i]);
    CHECK_NOTHROW(read_machine(text_of(changed), "machine.toml"));
    ++opened;
  }
  CHECK(opened > 50);
}

TEST_CASE("the ten lines that the template asks for first are a machine") {
  std::vector<std::string> lines = lines_of(machine_template());
  int open = 0;
  for (std::string& line : lines) {
    if (line.starts_with("#[side_a]")) break;
    for (const char* key : {"#drive =", "#lead", "#peak_force", "#feedback_on", "#count ="})
      if (line.starts_with(key)) line.erase(0, 1);
    open += !line.empty() && line[0] != '#';
  }
  CHECK(open <= 10);
  const Machine machine = read_machine(text_of(lines), "machine.toml");
  CHECK(machine.b.drive == DriveKind::screw);
  CHECK(*machine.a.count_m == 0.5e-6);
}

TEST_CASE("all keys of the template can be open together, but those that stand instead of others") {
  std::vector<std::string> lines = lines_of(machine_template());
  for (std::string& line : lines)
    if (is_optional(line) && !stands_instead(line)) line.erase(0, 1);
  const Machine machine = read_machine(text_of(lines), "machine.toml");
  CHECK(machine.moves.size() == 1);
  CHECK(machine.force_tests.size() == 1);
  CHECK(machine.guides.yaw_stiffness_n_m_per_rad == 400e3);
  CHECK(*machine.carriage_max_y_m == 0.85);
}

TEST_CASE("template and format page name every key that the reader knows") {
  std::ifstream file(std::string(EVENBEAM_SOURCE_DIR) + "/docs/formats.md");
  REQUIRE(file.good());
  std::stringstream page;
  page << file.rdbuf();
  const std::string text = machine_template();
  for (const std::string heading : {"", "[side]", "[bridge]", "[carriage]", "[guides]", "[limits]", "[controller]",
                                    "[topology]", "[thermal]", "[[force_test]]", "[[move]]"})
    for (const std::string& key : known_keys(heading)) {
      CAPTURE(heading);
      CAPTURE(key);
      const bool as_key =
          text.find("\n" + key + " = ") != std::string::npos || text.find("\n#" + key + " = ") != std::string::npos;
      CHECK((as_key || text.find("[" + key + "]") != std::string::npos));
      CHECK((page.str().find("`" + key + "`") != std::string::npos ||
             page.str().find("[" + key + "]") != std::string::npos));
    }
}

}  // namespace evenbeam::machine
