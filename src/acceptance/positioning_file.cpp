#include "acceptance/positioning_file.h"

#include <fmt/format.h>

#include "machine/toml_reader.h"
#include "units/unit.h"

namespace evenbeam::acceptance {

namespace {

using machine::TableReader;

std::optional<double> length_unit(TableReader& table, const char* key) {
  const auto text = table.text(key, "um");
  if (!text) return {};
  const auto unit = units::find_unit(*text);
  if (unit && unit->dimension == units::Dimension{.length = 1}) return unit->factor;
  table.refuse(key, "a unit of length: m, mm, um, in", fmt::format("Right: {} = \"um\".", key));
  return {};
}

SetUp set_up_of(TableReader table) {
  SetUp s;
  s.device_m = table.quantity("device", "m", {1e-9, 1e-3}, "0.5 um");
  s.device_per_length = table.number("device_per_length", {1e-9, 1e-3}, "0.5 um/m");
  s.alignment_offset_m = table.quantity("alignment_offset", "m", {1e-6, 0.1}, "1 mm");
  s.temperature_doubt_k = table.quantity("temperature_doubt", "K", {1e-3, 20}, "0.5 K");
  s.temperature_from_20_k = table.quantity("temperature_from_20", "K", {-50, 100}, "3 K");
  s.expansion_per_k = table.quantity("expansion", "1/K", {1e-8, 1e-4}, "11.5e-6 1/K");
  s.expansion_doubt_per_k = table.quantity("expansion_doubt", "1/K", {1e-9, 1e-4}, "1e-6 1/K");
  s.drift_m = table.quantity("drift", "m", {1e-9, 1e-2}, "1 um");
  table.close();
  return s;
}

PositioningPlan plan_of(TableReader& table) {
  PositioningPlan plan;
  if (const auto file = table.text("file", "positioning/laser-a.csv"))
    plan.file = *file;
  else
    table.missing("file", "the table's file, below the job's folder", "\"positioning/laser-a.csv\"");
  if (plan.file.starts_with('/') || plan.file.find("..") != std::string::npos)
    table.refuse("file", "a file below the job's folder",
                 "Copy the table into the job. Right: \"positioning/laser-a.csv\".");
  if (const auto of = table.choice<Measured>(
          "of",
          {{"a", Measured::side_a}, {"b", Measured::side_b}, {"mean", Measured::mean}, {"skew", Measured::skew}}))
    plan.of = *of;
  else if (!table.has("of"))
    table.missing("of", "what was measured: \"a\", \"b\", \"mean\" or \"skew\"", "\"a\"");
  plan.with_other_side = table.yes_no("with_other_side").value_or(false);
  plan.form.target_unit_m = length_unit(table, "target_unit");
  plan.form.value_unit_m = length_unit(table, "value_unit");
  plan.form.readings = table.choice<bool>("values", {{"deviation", false}, {"reading", true}});
  plan.limit_accuracy_m = table.quantity("limit_accuracy", "m", {1e-7, 0.1}, "20 um");
  plan.limit_repeatability_m = table.quantity("limit_repeatability", "m", {1e-7, 0.1}, "8 um");
  plan.limit_source = table.text("limit_source", "purchase specification, page 4").value_or("");
  plan.set_up = set_up_of(table.table_or_empty("set_up"));
  table.close();
  return plan;
}

}  // namespace

std::string to_text(Measured measured) {
  switch (measured) {
    case Measured::side_a:
      return "side A";
    case Measured::side_b:
      return "side B";
    case Measured::mean:
      return "mean";
    case Measured::skew:
      return "skew";
  }
  return "";
}

std::vector<PositioningPlan> read_positioning_file(const std::string& text, const std::string& file_name) {
  const toml::table parsed = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader top(parsed, "", file_name, troubles);
  top.require_format("evenbeam.positioning/1");
  std::vector<PositioningPlan> plans;
  for (TableReader& table : top.tables("table")) plans.push_back(plan_of(table));
  if (plans.empty() && troubles.empty())
    top.missing("table", "one [[table]] for each positioning table", "[[table]]");
  top.close();
  machine::throw_if_any(std::move(troubles));
  return plans;
}

}  // namespace evenbeam::acceptance
