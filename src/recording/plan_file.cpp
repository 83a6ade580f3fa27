#include "recording/plan_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "base/input_error.h"
#include "machine/settings_file.h"
#include "machine/toml_reader.h"
#include "recording/guess.h"
#include "units/unit.h"

namespace evenbeam::recording {
namespace {

using machine::TableReader;

constexpr const char* kFormat = "evenbeam.recordings/1";
using Loops = std::map<std::string, machine::Settings>;

// "position_a 0.5 um" -> role and unit.
std::optional<ColumnPlan> column_of(const std::string& text) {
  const std::size_t blank = text.find(' ');
  const auto role = column_role_of(text.substr(0, blank));
  if (!role || *role == ColumnRole::unknown) return std::nullopt;
  ColumnPlan column;
  column.role = *role;
  if (blank != std::string::npos) column.unit = text.substr(text.find_first_not_of(' ', blank));
  const UnitGroup group = group_of_role(*role);
  if (!column.unit.empty() && (group == UnitGroup::none || group_of_unit(column.unit) != group)) return std::nullopt;
  return column;
}

void read_columns(TableReader& table, RecordingPlan& plan) {
  const auto texts = table.texts("columns", "[\"time s\", \"position_a mm\", \"position_b mm\", \"ignored\"]");
  if (!texts) return;
  std::map<ColumnRole, int> uses;
  for (const std::string& text : *texts) {
    const auto column = column_of(text);
    if (!column) {
      table.refuse(
          "columns",
          "a role (time, reference_a, reference_b, reference_both, position_a, position_b, output_a, output_b, "
          "latched_a, latched_b, reference_y, position_y, ignored) and, after a blank, a unit that fits it",
          "Right: \"position_a um\", \"time ms\", \"output_b %\", \"ignored\".", fmt::format("\"{}\"", text));
      continue;
    }
    if (column->role != ColumnRole::ignored && ++uses[column->role] == 2)
      table.refuse("columns", "each role once", "Set the column that is not meant to \"ignored\".",
                   fmt::format("two columns \"{}\"", to_text(column->role)));
    plan.columns.push_back(*column);
  }
}

void read_unit(TableReader& table, const char* key, const char* example, UnitGroup group, std::string& unit) {
  const auto text = table.text(key, example);
  if (!text) return;
  if (group_of_unit(*text) == group) {
    unit = *text;
    return;
  }
  table.refuse(key,
               group == UnitGroup::time       ? "s, ms, us or sample"
               : group == UnitGroup::position ? "m, mm, um, in or count"
                                              : "%, N or A",
               fmt::format("Right: {} = \"{}\".", key, example));
}

void read_sign(TableReader& table, const char* key, std::initializer_list<std::pair<std::string_view, char>> words,
               std::optional<char>& sign) {
  if (const auto value = table.choice<char>(key, words)) sign = *value;
}

// What [all] and a file's entry have in common. Ranges: outside them a unit or a decimal point is wrong.
void read_common(TableReader& table, RecordingPlan& plan, GroupUnits& units) {
  read_unit(table, "time_unit", "ms", UnitGroup::time, units.time);
  read_unit(table, "position_unit", "um", UnitGroup::position, units.position);
  read_unit(table, "output_unit", "%", UnitGroup::output, units.output);
  read_sign(table, "separator", {{",", ','}, {";", ';'}, {"tab", '\t'}, {"blank", ' '}}, plan.separator);
  read_sign(table, "decimal", {{".", '.'}, {",", ','}}, plan.decimal_sign);
  const auto set = [](std::optional<double>& field, std::optional<double> value) {
    if (value) field = value;
  };
  set(plan.rate_hz, table.quantity("rate", "Hz", {1, 1e6}, "1000 Hz"));
  set(plan.carriage_y_m, table.quantity("carriage_y", "m", {-50, 50}, "0.40 m"));
  set(plan.payload_kg, table.quantity("payload", "kg", {0, 1e5}, "25 kg"));
  set(plan.temperature_k, table.quantity("temperature", "K", {233.15, 373.15}, "24 degC"));
  set(plan.b_late_s, table.quantity("b_late", "s", {-1, 1}, "0.5 ms"));
  if (const auto text = table.text("switch_on", "Monday morning")) plan.switch_on = *text;
  if (const auto text = table.text("notes", "second try")) plan.notes = *text;
}

void read_loops_name(TableReader& table, const Loops& loops, RecordingPlan& plan) {
  const auto name = table.text("loops", "soft");
  if (!name) return;
  const auto found = loops.find(*name);
  if (found == loops.end()) {
    table.refuse("loops", "the name of a table of settings in this file",
                 fmt::format("Add a table [loops.{}] with the settings, or correct the name.", *name));
    return;
  }
  plan.loops_name = *name;
  plan.loops = found->second;
}

RecordingPlan read_file(TableReader& table, const std::string& name, const RecordingPlan& all, const Loops& loops) {
  RecordingPlan plan = all;
  plan.file = name;
  plan.guessed = table.yes_no("guess").value_or(false);
  read_common(table, plan, plan.units);
  read_loops_name(table, loops, plan);
  read_columns(table, plan);
  if (const auto kind = table.choice<RunKind>("kind", {{"nudge", RunKind::nudge},
                                                       {"multisine", RunKind::multisine},
                                                       {"search", RunKind::search},
                                                       {"test_move", RunKind::test_move},
                                                       {"slow_jog", RunKind::slow_jog},
                                                       {"skew_step", RunKind::skew_step},
                                                       {"fault", RunKind::fault},
                                                       {"one_side", RunKind::one_side},
                                                       {"standstill", RunKind::standstill},
                                                       {"enabling", RunKind::enabling},
                                                       {"circle", RunKind::circle}}))
    plan.kind = *kind;
  if (const auto side =
          table.choice<Excited>("excited", {{"a", Excited::a}, {"b", Excited::b}, {"both", Excited::both}}))
    plan.excited = *side;
  if (const auto names = table.texts("names", "[\"t_s\", \"pos_a_mm\"]")) plan.names = *names;
  if (const auto text = table.text("skip", "wrong carriage position")) plan.skip = *text;
  if (const auto period = table.quantity("excitation_period", "s", {1e-3, 1e4}, "2 s"))
    plan.excitation_period_s = *period;
  table.close();
  return plan;
}

Loops read_loops(TableReader& root) {
  Loops loops;
  auto table = root.table("loops");
  if (!table) return loops;
  for (const std::string& name : table->keys())
    if (auto one = table->table(name)) loops[name] = machine::read_settings_table(*one);
  return loops;
}

}  // namespace

PlanFile read_plan_file(const std::string& text, const std::string& file_name) {
  const toml::table parsed = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader root(parsed, "", file_name, troubles);
  root.require_format(kFormat);
  const Loops loops = read_loops(root);
  PlanFile plans;
  if (auto all = root.table("all")) {
    read_common(*all, plans.all, plans.all.fallback_units);
    read_loops_name(*all, loops, plans.all);
    all->close();
  }
  if (auto files = root.table("files"))
    for (const std::string& name : files->keys())
      if (auto one = files->table(name)) plans.files.push_back(read_file(*one, name, plans.all, loops));
  root.close();
  machine::throw_if_any(std::move(troubles));
  return plans;
}

RecordingPlan plan_for(const PlanFile& plans, const std::string& recording) {
  for (const RecordingPlan& plan : plans.files)
    if (plan.file == recording) return plan;
  RecordingPlan plan = plans.all;
  plan.file = recording;
  return plan;
}

namespace {

std::string quoted(const std::string& text) {
  std::string out = "\"";
  for (char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) < 32 || c == 127)
      out += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
    else
      out += c;
  }
  return out + "\"";
}

bool is_plain_text(const std::string& text) {
  return std::all_of(text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 128; });
}

std::string entry_head(const RecordingPlan& plan) { return fmt::format("[files.{}]", quoted(plan.file)); }

std::string entry_text(const RecordingPlan& plan, bool guess) {
  std::string text = "\n" + entry_head(plan) + "\n";
  if (guess) text += "guess = true  # remove this line once the entry is checked\n";
  const RunKind kind = plan.kind.value_or(RunKind::unknown);
  if (kind != RunKind::unknown) {
    text += fmt::format("kind = \"{}\"", to_text(kind));
    text += plan.kind_reason.empty() ? "\n" : fmt::format("  # {}\n", plan.kind_reason);
  }
  if (plan.excited != Excited::unknown)
    text += fmt::format("excited = \"{}\"\n", plan.excited == Excited::a   ? "a"
                                              : plan.excited == Excited::b ? "b"
                                                                           : "both");
  if (plan.excitation_period_s) text += fmt::format("excitation_period = \"{} s\"\n", *plan.excitation_period_s);
  if (plan.rate_hz) text += fmt::format("rate = \"{} Hz\"\n", *plan.rate_hz);
  if (!plan.columns.empty()) {
    text += "columns = [";
    for (std::size_t c = 0; c < plan.columns.size(); ++c)
      text += fmt::format(
          "{}{}", c ? ", " : "",
          quoted(to_text(plan.columns[c].role) + (plan.columns[c].unit.empty() ? "" : " " + plan.columns[c].unit)));
    text += "]\n";
  }
  // Names guard the columns against another export with another order; only where TOML can hold them as they are.
  if (!plan.names.empty() && std::all_of(plan.names.begin(), plan.names.end(), is_plain_text)) {
    text += "names = [";
    for (std::size_t c = 0; c < plan.names.size(); ++c) text += (c ? ", " : "") + quoted(plan.names[c]);
    text += "]\n";
  }
  text +=
      plan.carriage_y_m ? fmt::format("carriage_y = \"{} m\"\n", *plan.carriage_y_m) : "# carriage_y = \"0.40 m\"\n";
  text += plan.payload_kg ? fmt::format("payload = \"{} kg\"\n", *plan.payload_kg) : "# payload = \"0 kg\"\n";
  if (plan.temperature_k) text += fmt::format("temperature = \"{} K\"\n", *plan.temperature_k);
  text +=
      "# switch_on = \"the same text for all files of one "
      "switch-on\"\n";
  return text;
}

std::string begun(const std::string& existing) {
  if (existing.find_first_not_of(" \t\r\n") == std::string::npos)
    return fmt::format(
        "# What each recording is. The program's guesses are marked: check them, correct them, remove the mark.\n"
        "# Keys and words: docs/formats.md.\nformat = \"{}\"\n",
        kFormat);
  return existing.back() == '\n' ? existing : existing + '\n';
}

const RecordingPlan* find_entry(const PlanFile& plans, const std::string& recording) {
  for (const RecordingPlan& plan : plans.files)
    if (plan.file == recording) return &plan;
  return nullptr;
}

// Without the lines from the entry's head to the next table.
std::optional<std::string> without_entry(const std::string& text, const std::string& head) {
  std::size_t from = text.starts_with(head) ? 0 : text.find("\n" + head);
  if (from == std::string::npos) return {};
  if (from > 0) ++from;
  std::size_t to = text.find("\n[", from);
  to = to == std::string::npos ? text.size() : to + 1;
  return text.substr(0, from) + text.substr(to);
}

}  // namespace

std::string with_guesses(const std::string& existing, const std::vector<RecordingPlan>& plans,
                         const std::string& file_name) {
  std::string text = begun(existing);
  const PlanFile known = read_plan_file(text, file_name);
  for (const RecordingPlan& plan : plans)
    if (find_entry(known, plan.file) == nullptr) text += entry_text(plan, true);
  return text;
}

bool is_persons_own(const PlanFile& plans, const std::string& recording) {
  const RecordingPlan* entry = find_entry(plans, recording);
  return entry != nullptr &&
         (!entry->guessed || entry->switch_on != plans.all.switch_on || entry->loops_name != plans.all.loops_name ||
          entry->notes != plans.all.notes || !entry->skip.empty() || entry->b_late_s != plans.all.b_late_s ||
          entry->temperature_k != plans.all.temperature_k);
}

std::string with_answer(const std::string& existing, const RecordingPlan& plan, const std::string& file_name) {
  std::string text = begun(existing);
  const PlanFile known = read_plan_file(text, file_name);
  if (find_entry(known, plan.file) != nullptr) {
    const auto rest = is_persons_own(known, plan.file) ? std::nullopt : without_entry(text, entry_head(plan));
    if (!rest)
      throw base::InputError(
          {.file = file_name,
           .found = "an entry for " + plan.file + " that is not the program's guess as it wrote it",
           .expected = "none, or the untouched guess",
           .next = "Change that entry in the file itself."});
    text = *rest;
  }
  return text + entry_text(plan, false);
}

}  // namespace evenbeam::recording
