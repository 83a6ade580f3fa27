#include "recording/import.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/hash.h"
#include "base/input_error.h"
#include "recording/columns.h"
#include "recording/guess.h"
#include "recording/run_kind.h"
#include "recording/signal_checks.h"
#include "recording/time_base.h"
#include "recording/time_shift.h"
#include "recording/words.h"

namespace evenbeam::recording {
namespace {

// Where a role's column goes; nullptr for those that go nowhere.
std::vector<double>* place_of(Recording& r, ColumnRole role) {
  switch (role) {
    case ColumnRole::reference_a:
    case ColumnRole::reference_both:
      return &r.reference_a_m;
    case ColumnRole::reference_b:
      return &r.reference_b_m;
    case ColumnRole::position_a:
      return &r.position_a_m;
    case ColumnRole::position_b:
      return &r.position_b_m;
    case ColumnRole::output_a:
      return &r.force_a_n;
    case ColumnRole::output_b:
      return &r.force_b_n;
    case ColumnRole::latched_a:
      return &r.latched_a_m;
    case ColumnRole::latched_b:
      return &r.latched_b_m;
    case ColumnRole::reference_y:
      return &r.reference_y_m;
    case ColumnRole::position_y:
      return &r.position_y_m;
    default:
      return nullptr;
  }
}

void scale(std::vector<double>& values, double factor) {
  for (double& value : values) value *= factor;
}

void append(std::vector<base::Finding>& to, const std::vector<base::Finding>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

void report_table(Recording& r, const Table& table) {
  if (table.rows_beyond > 0)
    r.findings.push_back(
        {.id = "import_rows_beyond",
         .verdict = base::Verdict::attention,
         .text =
             fmt::format("Only the first {} rows are used; the {} after them are more than is held of one capture.",
                         table.rows, table.rows_beyond),
         .recording = r.name,
         .next = "Split the file where nothing happens; each part is then a capture of its own."});
  if (table.cut_line.empty()) return;
  base::Finding f;
  f.id = "import_cut_line";
  f.verdict = base::Verdict::attention;
  f.text = fmt::format("The last line (after {} rows) is cut off or no row of numbers and was left out.", table.rows);
  f.recording = r.name;
  f.next = "Check that the recorder stored the whole capture.";
  r.findings.push_back(f);
}

// Columns that hold numbers and were not used, unless the person said so.
void report_unused(Recording& r, const Table& table, const SettledColumns& settled, bool stated) {
  std::string unused;
  for (std::size_t c = 0; c < settled.columns.size() && !stated; ++c) {
    const auto& values = table.columns[c];
    const bool empty = std::all_of(values.begin(), values.end(), [](double v) { return std::isnan(v); });
    if (settled.columns[c].role == ColumnRole::ignored && !empty)
      unused += (unused.empty() ? "" : ", ") + shortened(table.layout.names[c]);
  }
  if (unused.empty()) return;
  base::Finding f;
  f.id = "import_unused_columns";
  f.verdict = base::Verdict::pass;
  f.text = "Columns not used: " + unused + ".";
  f.recording = r.name;
  f.next = "If one of them is a position, reference or output, say so in `columns` of recordings.toml.";
  r.findings.push_back(f);
}

// Columns in SI on the uniform time base.
void fill_columns(Recording& r, Table& table, const SettledColumns& settled) {
  std::vector<double> stamps;
  for (std::size_t c = 0; c < settled.columns.size(); ++c) {
    if (settled.columns[c].role != ColumnRole::time) continue;
    stamps = std::move(table.columns[c]);
    scale(stamps, settled.columns[c].scale);
  }
  const TimeBase base = make_time_base(stamps, settled.rate_hz, table, r.name);
  append(r.findings, base.findings);
  r.period_s = base.period_s;
  r.time_s.resize(base.samples);
  for (std::size_t k = 0; k < base.samples; ++k) r.time_s[k] = base.start_s + static_cast<double>(k) * base.period_s;
  for (std::size_t c = 0; c < settled.columns.size(); ++c) {
    std::vector<double>* const place = place_of(r, settled.columns[c].role);
    if (place == nullptr || std::isnan(settled.columns[c].scale)) continue;
    *place = base.place_of_row.empty() ? std::move(table.columns[c]) : placed(table.columns[c], base);
    scale(*place, settled.columns[c].scale);
    if (settled.columns[c].role == ColumnRole::reference_both) r.reference_b_m = r.reference_a_m;
  }
}

void take_from_plan(Recording& r, const RecordingPlan& plan, const machine::Machine& machine) {
  r.carriage_y_m = plan.carriage_y_m ? plan.carriage_y_m : machine.carriage_y_m;
  r.payload_kg = plan.payload_kg;
  r.temperature_k = plan.temperature_k;
  r.switch_on = plan.switch_on;
  r.loops = plan.loops;
  if (r.loops) {  // what the entry leaves open is the machine's
    if (r.loops->period_s == 0) r.loops->period_s = machine.servo_period_s.value_or(0);
    if (r.loops->peak_force_a_n == 0) r.loops->peak_force_a_n = machine.a.peak_force_n.value_or(0);
    if (r.loops->peak_force_b_n == 0) r.loops->peak_force_b_n = machine.b.peak_force_n.value_or(0);
  }
  r.first_period_s = plan.excitation_period_s.value_or(0);
}

// What the entry, if there is one, says of separator and decimal sign.
StatedLayout stated_layout(const RecordingPlan* plan) {
  return plan ? StatedLayout{plan->separator, plan->decimal_sign} : StatedLayout{};
}

}  // namespace

ImportResult import_table(const std::string& file_name, Table table, const RecordingPlan* stated,
                          const machine::Machine& machine) {
  ImportResult result;
  result.plan = stated ? *stated : RecordingPlan{};
  RecordingPlan& plan = result.plan;
  Recording& r = result.recording;
  r.name = plan.file = file_name;
  plan.guessed = plan.guessed || plan.columns.empty();
  SettledColumns settled = settle_columns(table, plan, machine, file_name);
  report_table(r, table);
  append(r.findings, settled.findings);
  report_unused(r, table, settled, !plan.columns.empty());
  plan.columns = settled.columns;
  plan.names = table.layout.names;
  if (settled.rate_hz > 0) plan.rate_hz = settled.rate_hz;
  fill_columns(r, table, settled);
  take_from_plan(r, plan, machine);
  check_signals(r, machine);
  settle_time_shift(r, plan.b_late_s);
  settle_kind(r, plan, machine);
  if (r.kind == RunKind::circle) r.carriage_y_m = std::nullopt;  // it stands nowhere
  return result;
}

ImportResult import_recording(const std::string& file_name, std::string_view bytes, const RecordingPlan* plan,
                              const machine::Machine& machine) {
  ImportResult result = import_table(file_name, read_table(bytes, file_name, stated_layout(plan)), plan, machine);
  result.recording.sha256 = base::sha256_hex(bytes);
  return result;
}

ImportResult import_recording(const std::string& file_name, const base::ByteSource& source, const RecordingPlan* plan,
                              const machine::Machine& machine) {
  return import_table(file_name, read_table(source, file_name, stated_layout(plan)), plan, machine);
}

}  // namespace evenbeam::recording
