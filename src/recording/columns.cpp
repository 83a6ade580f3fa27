#include "recording/columns.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "base/input_error.h"
#include "recording/guess.h"
#include "recording/words.h"
#include "units/unit.h"

namespace evenbeam::recording {
namespace {

using base::Trouble;

bool is_side_b(ColumnRole role) {
  return role == ColumnRole::reference_b || role == ColumnRole::position_b || role == ColumnRole::output_b ||
         role == ColumnRole::latched_b;
}

// What is being settled, and the questions so far.
struct Work {
  const Table& table;
  const RecordingPlan& plan;
  const machine::Machine& machine;
  const std::string& file;
  PreambleFacts preamble;
  SettledColumns settled;
  std::vector<Trouble> questions;

  std::string name(std::size_t c) const {
    const auto& names = table.layout.names;
    return c < names.size() && !names[c].empty() ? fmt::format("column {} \"{}\"", c + 1, shortened(names[c]))
                                                 : fmt::format("column {} (no name)", c + 1);
  }
  std::string place() const { return fmt::format("Add to recordings.toml under [files.\"{}\"]: ", file); }
  void ask(std::string found, std::string expected, std::string next) {
    const bool asked =
        std::any_of(questions.begin(), questions.end(), [&](const Trouble& t) { return t.next == next; });
    if (!asked)
      questions.push_back(
          {file, table.layout.header_line, 0, std::move(found), std::move(expected), std::move(next)});
  }
};

// columns = ["time s", "position_a mm", ...] with what is known so far, ? where not.
std::string columns_line(const std::vector<ColumnPlan>& columns) {
  std::string line = "columns = [";
  for (std::size_t c = 0; c < columns.size(); ++c)
    line += fmt::format("{}\"{}{}{}\"", c ? ", " : "", to_text(columns[c].role), columns[c].unit.empty() ? "" : " ",
                        columns[c].unit);
  return line + "]";
}

constexpr const char* kRoleWords =
    "each column's role: time, reference_a, reference_b, position_a, position_b, output_a, output_b, latched_a, "
    "latched_b, reference_y, position_y (cross axis) or ignored";

void take_roles(Work& work) {
  const Layout& layout = work.table.layout;
  std::vector<ColumnPlan> guessed = guess_columns(layout.names, layout.unit_row);
  guessed.resize(layout.columns);
  // A last column without name and without a single value comes from a separator at the end of each line.
  for (std::size_t c = 0; c < layout.columns; ++c) {
    const bool nameless = layout.names.empty() || layout.names[c].empty();
    const auto& values = work.table.columns[c];
    if (nameless && std::all_of(values.begin(), values.end(), [](double v) { return std::isnan(v); }))
      guessed[c].role = ColumnRole::ignored;
  }
  work.settled.columns = guessed;
  if (work.plan.columns.empty()) return;
  if (work.plan.columns.size() != layout.columns)
    return work.ask(fmt::format("{} columns in recordings.toml", work.plan.columns.size()),
                    fmt::format("{}, as in the file", layout.columns), work.place() + columns_line(guessed));
  if (!work.plan.names.empty() && work.plan.names != layout.names)
    return work.ask(
        "a header other than the one that recordings.toml was written for", "the same header",
        fmt::format("If it is right, remove `names` under [files.\"{}\"] and check `columns`.", work.file));
  for (std::size_t c = 0; c < layout.columns; ++c) {
    work.settled.columns[c].role = work.plan.columns[c].role;
    if (!work.plan.columns[c].unit.empty()) work.settled.columns[c].unit = work.plan.columns[c].unit;
  }
}

void ask_about_roles(Work& work) {
  std::vector<ColumnPlan>& columns = work.settled.columns;
  std::string open;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    if (columns[c].role != ColumnRole::unknown) continue;
    open += (open.empty() ? "" : ", ") + work.name(c);
  }
  if (!open.empty())
    return work.ask(open + ", which could mean several things", kRoleWords,
                    work.place() + columns_line(columns) + " with each ? replaced.");
  const auto has = [&](ColumnRole role) {
    return std::any_of(columns.begin(), columns.end(), [&](const ColumnPlan& c) { return c.role == role; });
  };
  if (!has(ColumnRole::position_a) && !has(ColumnRole::position_b))
    work.ask("no column with a position", "the position of A, of B, or of both",
             work.place() + columns_line(columns) + " with the roles corrected.");
}

void take_rate(Work& work) {
  const auto& stated = work.plan.rate_hz;
  if (stated && work.preamble.rate_hz && std::abs(*stated - *work.preamble.rate_hz) > 1e-4 * *stated)
    work.ask(fmt::format("a rate of {} Hz in the file and {} Hz in recordings.toml", *work.preamble.rate_hz, *stated),
             "one rate", fmt::format("Correct `rate` under [files.\"{}\"].", work.file));
  work.settled.rate_hz = stated ? *stated : work.preamble.rate_hz.value_or(0);
}

// s, ms, us or samples: the one that makes the column's step one period of the stated rate.
std::string proven_time_unit(const std::vector<double>& values, double rate_hz) {
  if (!(rate_hz > 0)) return "";
  const double step = median_step(values);
  constexpr std::array<std::pair<const char*, double>, 3> units{{{"s", 1.0}, {"ms", 1e-3}, {"us", 1e-6}}};
  for (const auto& [unit, factor] : units)
    if (std::abs(step * factor * rate_hz - 1) < 0.01) return unit;
  return std::abs(step - 1) < 0.01 ? "sample" : "";
}

std::string first_of(std::initializer_list<std::string> texts) {
  for (const std::string& text : texts)
    if (!text.empty()) return text;
  return "";
}

void take_unit(Work& work, std::size_t c) {
  ColumnPlan& column = work.settled.columns[c];
  const UnitGroup group = group_of_role(column.role);
  if (group == UnitGroup::none) return;
  std::string GroupUnits::*member = group == UnitGroup::time       ? &GroupUnits::time
                                    : group == UnitGroup::position ? &GroupUnits::position
                                                                   : &GroupUnits::output;
  const std::string& stated = work.plan.units.*member;
  const bool by_column = c < work.plan.columns.size() && !work.plan.columns[c].unit.empty();
  if (!column.unit.empty() && !stated.empty() && column.unit != stated && !by_column && column.unit != "sample")
    return work.ask(
        fmt::format("{} in {} by its name and in {} by recordings.toml", work.name(c), column.unit, stated),
        "one unit", work.place() + columns_line(work.settled.columns) + " with the right units.");
  column.unit = first_of({column.unit, stated, work.preamble.units.*member, work.plan.fallback_units.*member});
  if (group == UnitGroup::time && column.unit.empty())
    column.unit = proven_time_unit(work.table.columns[c], work.settled.rate_hz);
  if (!column.unit.empty()) return;
  const char* const examples[] = {"", "time_unit = \"s\" (or ms, us, sample)",
                                  "position_unit = \"mm\" (or m, um, in, count)", "output_unit = \"%\" (or N, A)"};
  work.ask(fmt::format("no unit for {} ({})", work.name(c), to_text(column.role)), kUnitSomebodyStates,
           work.place() + examples[static_cast<int>(group)]);
}

double scale_of_time(Work& work, const ColumnPlan& column) {
  if (column.unit != "sample") return std::numeric_limits<double>::quiet_NaN();
  if (work.settled.rate_hz > 0) return 1 / work.settled.rate_hz;
  work.ask("samples counted and no rate", "the recorder's rate",
           work.place() + "rate = \"1000 Hz\" (what the recorder was set to)");
  return std::numeric_limits<double>::quiet_NaN();
}

double scale_of_count(Work& work, ColumnRole role) {
  if (role == ColumnRole::reference_y || role == ColumnRole::position_y) {
    work.ask("positions of the cross axis in counts, and no key says how long one is", "a length a raw unit",
             work.place() + "\"position_y 0.5 um\" in columns (its own value).");
    return std::numeric_limits<double>::quiet_NaN();
  }
  const bool side_b = is_side_b(role);
  const auto& count_m = side_b ? work.machine.b.count_m : work.machine.a.count_m;
  if (count_m) return *count_m;
  work.ask(
      fmt::format("positions of side {} in counts", side_b ? "B" : "A"), "the travel of one count in machine.toml",
      fmt::format("Add to machine.toml under [side_{}]: count = \"0.5 um\" (its own value).", side_b ? 'b' : 'a'));
  return std::numeric_limits<double>::quiet_NaN();
}

// % of peak, ampere through full_output_a, or newtons; NaN where the machine does not say, and the column is left
// out.
double scale_of_output(Work& work, const ColumnPlan& column, const units::Unit& unit, double factor) {
  const bool side_b = is_side_b(column.role);
  const machine::Side& side = side_b ? work.machine.b : work.machine.a;
  const bool ampere = unit.dimension == units::Dimension{.current = 1};
  if (!ampere && unit.symbol != "%") return factor;
  if (side.peak_force_n && !ampere) return factor * *side.peak_force_n;
  if (side.peak_force_n && side.full_output_a) return factor * *side.peak_force_n / *side.full_output_a;
  const char* const key = side.peak_force_n ? "full_output = \"9 A\"" : "peak_force = \"2600 N\"";
  base::Finding finding;
  finding.id = fmt::format("import_output_{}_left_out", side_b ? 'b' : 'a');
  finding.verdict = base::Verdict::attention;
  finding.text = fmt::format(
      "Output of side {} is in {}, and machine.toml does not say what that is in newtons; the column is left out.",
      side_b ? "B" : "A", column.unit);
  finding.recording = work.file;
  finding.next = fmt::format("Add to machine.toml under [side_{}]: {} (its own value).", side_b ? 'b' : 'a', key);
  work.settled.findings.push_back(finding);
  return std::numeric_limits<double>::quiet_NaN();
}

void take_scale(Work& work, std::size_t c) {
  ColumnPlan& column = work.settled.columns[c];
  const UnitGroup group = group_of_role(column.role);
  if (group == UnitGroup::none || column.unit.empty()) return;
  const auto quantity = units::parse_quantity(column.unit);
  const auto unit = quantity ? std::optional(quantity->unit) : units::find_unit(column.unit);
  if (group_of_unit(column.unit) != group)
    return work.ask(fmt::format("{} as {} in \"{}\"", work.name(c), to_text(column.role), column.unit),
                    group == UnitGroup::time       ? "a time unit (s, ms, us, sample)"
                    : group == UnitGroup::position ? "a length unit (m, mm, um, in, count)"
                                                   : "an output unit (%, N, A)",
                    work.place() + columns_line(work.settled.columns) + " with the right units.");
  const double factor = quantity ? quantity->value_si : unit ? unit->factor : 1;
  if (column.unit == "sample")
    column.scale = scale_of_time(work, column);
  else if (column.unit == "count")
    column.scale = scale_of_count(work, column.role);
  else if (group == UnitGroup::output)
    column.scale = scale_of_output(work, column, *unit, factor);
  else
    column.scale = factor;
}

}  // namespace

double median_step(const std::vector<double>& values) {
  std::vector<double> steps;
  const std::size_t n = std::min<std::size_t>(values.size(), 100001);  // a hundred thousand steps tell it well enough
  steps.reserve(n);
  for (std::size_t i = 1; i < n; ++i)
    if (std::isfinite(values[i] - values[i - 1])) steps.push_back(values[i] - values[i - 1]);
  if (steps.empty()) return std::numeric_limits<double>::quiet_NaN();
  const auto middle = steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2);
  std::nth_element(steps.begin(), middle, steps.end());
  return *middle;
}

bool lacks_units_only(const base::InputError& error) {
  return std::all_of(error.troubles().begin(), error.troubles().end(),
                     [](const base::Trouble& trouble) { return trouble.expected == kUnitSomebodyStates; });
}

SettledColumns settle_columns(const Table& table, const RecordingPlan& plan, const machine::Machine& machine,
                              const std::string& file) {
  Work work{table, plan, machine, file, read_preamble(table.layout.preamble), {}, {}};
  take_roles(work);
  ask_about_roles(work);
  take_rate(work);
  const std::size_t count = work.settled.columns.size();
  for (std::size_t c = 0; c < count; ++c) take_unit(work, c);
  for (std::size_t c = 0; c < count; ++c) take_scale(work, c);
  const bool timed = std::any_of(work.settled.columns.begin(), work.settled.columns.end(), [](const ColumnPlan& c) {
    return c.role == ColumnRole::time || c.role == ColumnRole::unknown;
  });
  if (!timed && !(work.settled.rate_hz > 0))
    work.ask("no time column and no rate", "the recorder's rate",
             work.place() + "rate = \"1000 Hz\" (what the recorder was set to)");
  if (!work.questions.empty()) throw base::InputError(std::move(work.questions));
  return std::move(work.settled);
}

}  // namespace evenbeam::recording
