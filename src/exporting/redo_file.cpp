// The table of what is to be done again, and how it is read (format evenbeam.redo/1).
#include <algorithm>
#include <utility>

#include "base/check.h"
#include "base/embedded.h"
#include "exporting/redo.h"
#include "machine/toml_reader.h"

extern "C" const evenbeam::base::EmbeddedEntry evenbeam_redo_rules[];

namespace evenbeam::exporting {
namespace {

using machine::TableReader;

bool ends_with(const std::string& name, const char* end) {
  return name.size() > 2 &&
         name.compare(name.size() - std::char_traits<char>::length(end), std::string::npos, end) == 0;
}

// "sign_ab" to both sides' names; others as they are.
std::vector<std::string> both_sides(const std::vector<std::string>& names) {
  std::vector<std::string> out;
  for (const std::string& name : names) {
    if (!ends_with(name, "_ab")) {
      out.push_back(name);
      continue;
    }
    const std::string stem = name.substr(0, name.size() - 2);
    out.push_back(stem + "a");
    out.push_back(stem + "b");
  }
  return out;
}

std::string needed(TableReader& table, const char* key, const char* example) {
  if (!table.has(key)) table.missing(key, "text", std::string("\"") + example + "\"");
  return table.text(key, example).value_or("");
}

// Names must be facts.
void check_facts(TableReader& table, const char* key, const std::vector<std::string>& names,
                 const std::vector<RedoFact>& facts) {
  for (const std::string& name : names)
    if (std::none_of(facts.begin(), facts.end(), [&](const RedoFact& f) { return f.name == name; }))
      table.refuse(key, "names of facts", "Correct the name.", name);
}

void read_facts(TableReader& root, RedoTable& out) {
  for (TableReader& one : root.tables("fact")) {
    const std::string name = needed(one, "name", "mark_x"), words = needed(one, "words", "the mark's place");
    const auto lines = one.texts("lines", "[\"count_x\"]").value_or(std::vector<std::string>{});
    one.close();
    if (!ends_with(name, "_x")) {
      out.facts.push_back({name, words, lines});
      continue;
    }
    for (const auto& [side, word] : {std::pair{"a", "A: "}, std::pair{"b", "B: "}}) {
      std::vector<std::string> of_side;
      for (const std::string& line : lines)
        of_side.push_back(ends_with(line, "_x") ? line.substr(0, line.size() - 1) + side : line);
      out.facts.push_back({name.substr(0, name.size() - 1) + side, word + words, of_side});
    }
  }
}

RedoCapture read_capture(TableReader& one, const std::vector<RedoFact>& facts) {
  RedoCapture capture{.name = needed(one, "name", "nudge"), .how = needed(one, "how", "One short push.")};
  const auto list = [&](const char* key) {
    const auto names = both_sides(one.texts(key, "[\"sign_ab\"]").value_or(std::vector<std::string>{}));
    check_facts(one, key, names, facts);
    return names;
  };
  capture.settles = list("settles");
  capture.leans_on = list("leans_on");
  capture.kind = one.text("kind", "nudge").value_or("");
  capture.excited = one.text("excited", "a").value_or("");
  capture.file = one.text("file", "squareness.toml").value_or("");
  one.close();
  return capture;
}

RedoRepair read_repair(TableReader& table, const std::string& side, const RedoTable& known) {
  RedoRepair repair{.name = needed(table, "name", "drive-x"), .what = needed(table, "what", "what was done")};
  const auto of_side = [&](const std::string& text, const std::string& end) {
    return ends_with(text, end.c_str()) ? text.substr(0, text.size() - 1) + side : text;
  };
  repair.name = of_side(repair.name, "-x");
  for (TableReader& one : table.tables("changes")) {
    const std::string fact = needed(one, "fact", "mark_x"), why = needed(one, "why", "the plug was out");
    const std::string unless = one.text("unless", "feedback on load").value_or("");
    if (!unless.empty() && unless != "feedback on load" && unless != "turning motor")
      one.refuse("unless", "\"feedback on load\" or \"turning motor\"", "Correct the word.");
    one.close();
    if (fact.empty()) continue;  // told as missing
    for (const std::string& name : both_sides({of_side(fact, "_x")})) {
      check_facts(one, "fact", {name}, known.facts);
      repair.changes.push_back({name, why, unless});
    }
  }
  table.close();
  return repair;
}

// A doubtful fact that no capture settles could never become valid again.
void check_settled(TableReader& root, const RedoTable& table) {
  for (const RedoRepair& repair : table.repairs)
    for (const RedoChange& change : repair.changes)
      if (std::none_of(table.captures.begin(), table.captures.end(), [&](const RedoCapture& c) {
            return std::find(c.settles.begin(), c.settles.end(), change.fact) != c.settles.end();
          }))
        root.refuse("repair", "a capture that settles every fact made doubtful", "Add it to `settles`.", change.fact);
}

}  // namespace

RedoTable read_redo_table(const std::string& text, const std::string& file_name) {
  const toml::table file = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader root(file, "", file_name, troubles);
  root.require_format("evenbeam.redo/1");
  RedoTable out;
  read_facts(root, out);
  for (TableReader& one : root.tables("capture")) out.captures.push_back(read_capture(one, out.facts));
  for (TableReader& one : root.tables("station")) {
    RedoStation station{.name = needed(one, "name", "marks")};
    station.rests_on = both_sides(one.texts("rests_on", "[\"mark_ab\"]").value_or(std::vector<std::string>{}));
    check_facts(one, "rests_on", station.rests_on, out.facts);
    one.close();
    out.stations.push_back(station);
  }
  for (const char* side : {"a", "b"})
    for (TableReader& one : root.tables("repair")) {
      RedoRepair repair = read_repair(one, side, out);
      if (std::none_of(out.repairs.begin(), out.repairs.end(),
                       [&](const RedoRepair& r) { return r.name == repair.name; }))
        out.repairs.push_back(std::move(repair));
    }
  if (troubles.empty()) check_settled(root, out);
  root.close();
  if (out.captures.size() > 20 || out.facts.size() > 32)
    root.missing("fact", "at most 32 facts (sides counted) and 20 captures", "");
  machine::throw_if_any(std::move(troubles));
  return out;
}

const RedoTable& redo_table() {
  static const RedoTable table = [] {
    const base::EmbeddedEntry& file = evenbeam_redo_rules[0];
    base::check(file.path != nullptr, "the table of what to do again is built in", {});
    return read_redo_table(std::string(file.begin, file.end), file.path);
  }();
  return table;
}

}  // namespace evenbeam::exporting
