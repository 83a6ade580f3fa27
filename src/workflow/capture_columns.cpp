#include "workflow/capture_columns.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/hash.h"
#include "base/input_error.h"
#include "machine/machine_file.h"
#include "recording/guess.h"
#include "recording/import.h"
#include "recording/layout.h"
#include "recording/plan_file.h"

namespace evenbeam::workflow {
namespace {

constexpr std::size_t head_bytes = 64 << 10;
constexpr std::size_t first_rows = 3;

std::string plans_text(const base::Disk& disk, const Places& places) {
  return disk.has_file(places.recordings_toml) ? disk.read(places.recordings_toml) : std::string();
}

recording::PlanFile plans_of(const std::string& text, const Places& places) {
  return text.empty() ? recording::PlanFile{} : recording::read_plan_file(text, places.recordings_toml);
}

// Cells of the first rows of data, column by column.
std::vector<std::vector<std::string>> first_cells(std::string_view bytes, const recording::Layout& layout) {
  std::vector<std::vector<std::string>> columns(layout.columns);
  std::size_t at = layout.data_offset;
  for (std::size_t row = 0; row < first_rows && at < bytes.size(); ++row) {
    const std::size_t end = std::min(bytes.find('\n', at), bytes.size());
    const auto cells = recording::split_cells(bytes.substr(at, end - at), layout.separator);
    for (std::size_t c = 0; c < columns.size() && c < cells.size(); ++c) columns[c].emplace_back(cells[c]);
    at = end + 1;
  }
  return columns;
}

std::vector<ColumnSeen> columns_seen(std::string_view bytes, const recording::Layout& layout,
                                     const std::vector<recording::ColumnPlan>& planned) {
  std::vector<std::string> names = layout.names;
  for (std::size_t c = names.size(); c < layout.columns; ++c) names.push_back(fmt::format("column {}", c + 1));
  const std::vector<recording::ColumnPlan> plans =
      planned.size() == layout.columns ? planned : recording::guess_columns(names, layout.unit_row);
  const auto cells = first_cells(bytes, layout);
  std::vector<ColumnSeen> seen;
  for (std::size_t c = 0; c < layout.columns; ++c)
    seen.push_back({names[c], recording::to_text(plans[c].role), plans[c].unit, cells[c]});
  return seen;
}

}  // namespace

CaptureSeen look_at_capture(const base::Disk& disk, const Places& places, const std::string& file) {
  const std::vector<std::string> files = disk.list(places.recordings);
  if (std::find(files.begin(), files.end(), file) == files.end())
    throw base::InputError(
        {.file = file, .found = "no capture of that name", .expected = "one of the job", .next = "Choose another."});
  const std::string bytes = disk.read(base::join_path(places.recordings, file));
  const recording::PlanFile plans = plans_of(plans_text(disk, places), places);
  const recording::RecordingPlan plan = recording::plan_for(plans, file);
  CaptureSeen seen{.file = file,
                   .kind = to_text(plan.kind.value_or(recording::RunKind::unknown)),
                   .by_person = recording::is_persons_own(plans, file),
                   .carriage_y_m = plan.carriage_y_m,
                   .payload_kg = plan.payload_kg};
  try {
    const std::string_view head = std::string_view(bytes).substr(0, head_bytes);
    const recording::Layout layout =
        recording::find_layout(head, head.size() == bytes.size(), file, {plan.separator, plan.decimal_sign});
    seen.columns = columns_seen(head, layout, plan.columns);
    const machine::Machine machine = machine::read_machine(disk.read(places.machine), places.machine);
    const recording::ImportResult import = recording::import_recording(file, bytes, &plan, machine);
    seen.kind = to_text(import.recording.kind);
    seen.columns = columns_seen(head, layout, import.plan.columns);
  } catch (const base::InputError& error) {
    seen.trouble = error.what();
  }
  return seen;
}

bool keep_answer(base::Disk& disk, const Places& places, const CaptureAnswer& answer) {
  const std::string existing = plans_text(disk, places);
  if (base::sha256_hex(existing) != answer.seen_sha256) return false;
  const std::string bytes = disk.read(base::join_path(places.recordings, answer.file));
  const machine::Machine machine = machine::read_machine(disk.read(places.machine), places.machine);
  recording::RecordingPlan plan;
  plan.file = answer.file;
  plan.carriage_y_m = answer.carriage_y_m;
  plan.payload_kg = answer.payload_kg;
  if (const auto kind = recording::run_kind_of(answer.kind); kind && *kind != recording::RunKind::unknown)
    plan.kind = *kind;
  for (const std::string& text : answer.columns) {
    const std::size_t blank = std::min(text.find(' '), text.size());
    recording::ColumnPlan column{.unit = blank < text.size() ? text.substr(blank + 1) : ""};
    column.role = recording::column_role_of(text.substr(0, blank)).value_or(recording::ColumnRole::unknown);
    plan.columns.push_back(std::move(column));
  }
  const std::string_view head = std::string_view(bytes).substr(0, head_bytes);
  plan.names = recording::find_layout(head, head.size() == bytes.size(), answer.file).names;
  // The reader itself says whether the entry answers its questions, on the text as it will stand.
  const std::string text = recording::with_answer(existing, plan, places.recordings_toml);
  const recording::RecordingPlan as_read = recording::plan_for(plans_of(text, places), answer.file);
  recording::import_recording(answer.file, bytes, &as_read, machine);
  disk.write(places.recordings_toml, text);
  return true;
}

}  // namespace evenbeam::workflow
