#include <array>
#include <utility>

#include "machine/toml_reader.h"
#include "rehearsal/captures.h"
#include "rehearsal/defects.h"

namespace evenbeam::rehearsal {
namespace {

using machine::TableReader;

std::optional<double> value_of(TableReader& table, const Quantity& q) {
  if (q.unit == "yes") return table.yes_no(q.key).value_or(false) ? std::optional(1.0) : std::nullopt;
  if (q.unit == "1") return table.number(q.key, {q.low, q.high}, q.example);
  return table.quantity(q.key, q.unit, {q.low, q.high}, q.example);
}

void read_runs(TableReader& root, Defects& out) {
  out.runs = root.texts("runs", "[\"move\", \"jog\"]").value_or(std::vector<std::string>{});
  for (const std::string& run : out.runs)
    if (run != "rehearse" && !take_of(run))
      root.refuse("runs", "runs of `simulate`, or rehearse", "Correct the word", run);
}

}  // namespace

Defects read_defects(TableReader& root, const std::string& name_where_absent) {
  Defects out{.name = root.text("name", "cable catches on B").value_or(name_where_absent),
              .runs = {},
              .from_s = {},
              .changes = {}};
  read_runs(root, out);
  out.from_s = root.quantity("from", "s", {0, 1000}, "400 ms");
  constexpr std::array<std::array<std::string_view, 2>, 5> headings = {
      {{"side_a", "side"}, {"side_b", "side"}, {"bridge", "bridge"}, {"loops", "loops"}, {"captures", "captures"}}};
  bool any = false;
  for (const auto& [heading, where] : headings) {
    any = any || root.has(heading);
    TableReader table = root.table_or_empty(heading);
    for (const Quantity& q : quantities())
      if (q.where == where)
        if (const auto value = value_of(table, q))
          out.changes.push_back({std::string(heading), std::string(q.key), *value});
    table.close();
  }
  if (!any) root.missing("side_b", "at least one change", "[side_b] with friction_factor = 2.0");
  root.close();
  return out;
}

Defects read_defects(const std::string& text, const std::string& file_name) {
  const toml::table parsed = machine::parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader root(parsed, "", file_name, troubles);
  root.require_format("evenbeam.defects/1");
  Defects out = read_defects(root, file_name);
  machine::throw_if_any(std::move(troubles));
  return out;
}

}  // namespace evenbeam::rehearsal
