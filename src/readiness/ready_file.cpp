#include "readiness/ready_file.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "machine/toml_reader.h"

namespace evenbeam::readiness {
namespace {

using machine::TableReader;

bool is_empty_text(TableReader& t, std::string_view key, const std::string& example) {
  return t.has(key) && t.text(key, example) == "";
}

void read_quantity(TableReader& t, const CheckLine& line, Measured& m) {
  const machine::Plausible range{line.plausible_low, line.plausible_high};
  if (!is_empty_text(t, "measured", line.example)) m.value = t.quantity("measured", line.unit, range, line.example);
  const double largest = std::max(-line.plausible_low, line.plausible_high);
  if (!is_empty_text(t, "error", line.example))
    m.error = t.quantity("error", line.unit, {0, largest}, line.example).value_or(0);
  m.low = t.quantity("limit_low", line.unit, range, line.example);
  m.high = t.quantity("limit", line.unit, range, line.example);
  m.limit_source = t.text("limit_source", "the guide maker's sheet").value_or("");
  const bool stated = t.has("limit") || t.has("limit_low");
  if (stated && m.limit_source.empty())
    t.missing("limit_source", "where the stated limit comes from", "\"the guide maker's sheet\"");
  if (m.low && m.high && *m.low > *m.high) t.refuse("limit_low", "no more than limit", "Exchange the two.");
}

// nullopt where the line is still empty.
std::optional<Measured> read_line(TableReader& t, const CheckLine& line) {
  Measured m;
  if (line.unit.empty()) {
    if (!is_empty_text(t, "seen", "yes")) m.yes = t.choice<bool>("seen", {{"yes", true}, {"no", false}});
  } else {
    read_quantity(t, line, m);
  }
  m.instrument = t.text("instrument", "dial gauge 0.01 mm").value_or("");
  m.by = t.text("by", "A. Meyer").value_or("");
  m.after = t.text("after", "drive-b").value_or("");
  m.note = t.text("note", "seen with the covers off").value_or("");
  if (m.value && m.instrument.empty()) t.missing("instrument", "what it was measured with", "\"dial gauge 0.01 mm\"");
  t.close();
  return m.value || m.yes ? std::optional(m) : std::nullopt;
}

void read_checks(TableReader& root, const std::vector<CheckLine>& lines, Sheet& sheet) {
  auto checks = root.table("check");
  if (!checks) return;
  for (const CheckLine& line : lines)
    if (auto t = checks->table(line.id))
      if (auto m = read_line(*t, line)) sheet.measured.emplace_back(line.id, std::move(*m));
  checks->close();
}

// Exporters put the axis before each name; what the person names as such is taken off.
void drop_prefix(ParameterText& text, const std::string& prefix) {
  for (Parameter& p : text.parameters)
    if (!prefix.empty() && p.name.starts_with(prefix)) p.name.erase(0, prefix.size());
}

void read_stated(TableReader& parameters, Stated& stated) {
  for (TableReader& one : parameters.tables("intended")) {
    const auto name = one.text("name", "Direction"), reason = one.text("reason", "motor B is mounted mirrored");
    if (!name || name->empty()) one.missing("name", "the parameter's name", "\"Direction\"");
    if (!reason || reason->empty())
      one.missing("reason", "why it differs, in words", "\"motor B is mounted mirrored\"");
    stated.intended.push_back({name.value_or(""), reason.value_or("")});
    one.close();
  }
  for (TableReader& one : parameters.tables("effect")) {
    const auto name = one.text("name", "P-0-4711"), does = one.text("does", "gain");
    if (!name || name->empty()) one.missing("name", "the parameter's name", "\"P-0-4711\"");
    const auto effect = does ? effect_of_word(*does) : std::nullopt;
    const std::string words = fmt::format("one of {}", fmt::join(effect_words(), ", "));
    if (!does) one.missing("does", words, "\"gain\"");
    if (does && !effect) one.refuse("does", words, "By the drive's manual.");
    stated.effects.push_back({name.value_or(""), effect.value_or(SkewEffect::unknown)});
    one.close();
  }
}

void read_parameters(TableReader& root, const ReadNamed& read, Sheet& sheet) {
  auto t = root.table("parameters");
  if (!t) return;
  const bool none = is_empty_text(*t, "a", "drives/a.txt") && is_empty_text(*t, "b", "drives/b.txt");
  const auto a = t->text("a", "drives/a.txt"), b = t->text("b", "drives/b.txt");
  if (!none && (!a || !b || a->empty() || b->empty()))
    t->missing(a && !a->empty() ? "b" : "a", "both drives' parameter sets, or neither", "\"drives/b.txt\"");
  else if (!none)
    for (const std::string& file : {*a, *b}) sheet.parameters.push_back(read_parameter_text(read(file), file));
  const std::string prefix_a = t->text("prefix_a", "Axis1.").value_or("");
  const std::string prefix_b = t->text("prefix_b", "Axis2.").value_or("");
  if (!sheet.parameters.empty())
    drop_prefix(sheet.parameters[0], prefix_a), drop_prefix(sheet.parameters[1], prefix_b);
  read_stated(*t, sheet.stated);
  t->close();
}

}  // namespace

const Measured* find_measured(const Sheet& sheet, const std::string& line) {
  for (const auto& [id, measured] : sheet.measured)
    if (id == line) return &measured;
  return nullptr;
}

Sheet read_sheet(const std::string& text, const std::string& file_name, const std::vector<CheckLine>& lines,
                 const ReadNamed& read) {
  const toml::table root = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader t(root, "", file_name, troubles);
  Sheet sheet{.file = file_name};
  t.require_format("evenbeam.ready/1");
  read_checks(t, lines, sheet);
  read_parameters(t, read, sheet);
  t.close();
  machine::throw_if_any(std::move(troubles));
  return sheet;
}

std::optional<std::string> with_missing_lines(const std::string& text, const std::string& file_name,
                                              const std::vector<CheckLine>& lines, const machine::Machine& machine) {
  const toml::table root = machine::parse_toml(text, file_name);
  const toml::table* checks = root["check"].as_table();
  std::vector<CheckLine> lacking;
  for (const CheckLine& line : lines)
    if (!checks || !checks->contains(line.id)) lacking.push_back(line);
  if (lacking.empty()) return std::nullopt;
  return text + (text.ends_with("\n") ? "" : "\n") + sheet_lines(lacking, machine);
}

}  // namespace evenbeam::readiness
