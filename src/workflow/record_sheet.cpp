#include "workflow/record_sheet.h"

#include <fmt/format.h>

#include <limits>

#include "base/hash.h"
#include "machine/describe.h"
#include "workflow/exports.h"
#include "workflow/gates.h"
#include "workflow/number_methods.h"

namespace evenbeam::workflow {
namespace {

using report::SettingsRow;

constexpr const char* kForm = "mean and skew";

SettingsRow row(const char* key, const char* label, double value, const char* unit, bool front = false) {
  return {.form = kForm, .key = key, .label = label, .value = value, .unit = unit, .front = front};
}

SettingsRow force_row(const char* key, const char* label, double value_n, double peak_n) {
  SettingsRow made = row(key, label, value_n, "N");
  if (peak_n > 0) made.percent_of_peak = 100 * value_n / peak_n;
  return made;
}

std::string filters_text(const std::vector<machine::Biquad>& filters) {
  std::string text;
  for (const machine::Biquad& filter : filters)
    text +=
        fmt::format("{}{:.4g} Hz (zn {:.3g}, zd {:.3g})", text.empty() ? "" : "; ", filter.hz, filter.zn, filter.zd);
  return text.empty() ? "none" : text;
}

void add_loop(const std::string& name, const machine::CoordinateLoop& loop, std::vector<SettingsRow>& rows) {
  const auto add = [&](const char* key, const char* label, double value, const char* unit, bool front) {
    rows.push_back({.form = kForm,
                    .key = name + key,
                    .label = name + ": " + label,
                    .value = value,
                    .unit = unit,
                    .front = front});
  };
  add("_position_gain_per_s", "position gain", loop.position_gain_per_s, "1/s", true);
  add("_velocity_gain_n_s_per_m", "velocity gain", loop.velocity_gain_n_s_per_m, "N*s/m", true);
  add("_velocity_integral_s", "integral time of the velocity loop", loop.velocity_integral_s, "s", true);
  add("_velocity_filter_hz", "velocity filter", loop.velocity_filter_hz, "Hz", false);
  rows.push_back(
      {.form = kForm, .key = name + "_filters", .label = name + ": filters", .text = filters_text(loop.filters)});
}

// The share as `loops` gives it: one number, or its ends on the front page and the whole list behind.
void add_share(const Evaluation& evaluation, std::vector<SettingsRow>& rows) {
  SettingsRow front = row("share", "force share of A", evaluation.settings->share, "1", true);
  const base::StationResult* loops = find_station(evaluation, "loops");
  const base::Value* value = loops != nullptr ? base::find_value(*loops, "share") : nullptr;
  const auto* list = value != nullptr ? std::get_if<std::vector<base::Row>>(&value->value) : nullptr;
  if (list == nullptr || list->empty()) return rows.push_back(front);
  const auto at = [](const base::Row& one) {
    constexpr double unknown = std::numeric_limits<double>::quiet_NaN();
    return fmt::format("{:.4f} at y = {:.3g} m", base::find_number(one, "share").value_or(unknown),
                       base::find_number(one, "y_m").value_or(unknown));
  };
  front.value.reset();
  front.text = fmt::format("{} to {}", at(list->front()), at(list->back()));
  rows.push_back(front);
  SettingsRow places = front;
  places.key = "share_along";
  places.label = "force share of A at each carriage place";
  places.text.clear();
  places.front = false;
  for (const base::Row& one : *list) {
    places.text += (places.text.empty() ? "" : "; ") + at(one);
    if (const auto full = base::find_number(one, "share_full_payload"))
      places.text += fmt::format(" ({:.4f} with full payload)", *full);
  }
  rows.push_back(places);
}

std::vector<report::InputFile> input_files(const Evaluation& evaluation) {
  std::vector<report::InputFile> files;
  for (const journal::InputFile& input : evaluation.inputs) {
    std::string kind = input.file == "machine.toml"                ? "machine description"
                       : input.file == "recordings.toml"           ? "what the captures are"
                       : input.file.ends_with(".toml")             ? "description"
                       : input.file.find('/') != std::string::npos ? "measured table"
                                                                   : "capture that could not be read";
    for (const recording::Recording& r : evaluation.recordings)
      if (r.name == input.file) kind = recording::to_text(r.kind);
    files.push_back({input.file, input.sha256, kind});
  }
  return files;
}

std::vector<report::Override> overrides(const Evaluation& evaluation) {
  std::vector<report::Override> list;
  for (const Override& one : evaluation.overrides)
    list.push_back({one.station, fmt::format("{}", fmt::join(one.findings, ", ")), one.reason, one.by});
  return list;
}

}  // namespace

std::vector<SettingsRow> settings_rows(const Evaluation& evaluation) {
  std::vector<SettingsRow> rows;
  if (!evaluation.settings) return rows;
  const machine::Settings& s = *evaluation.settings;
  add_share(evaluation, rows);
  add_loop("mean", s.mean, rows);
  add_loop("skew", s.skew, rows);
  rows.push_back(row("mass_ff_kg", "mass feed-forward", s.mass_ff_kg, "kg", true));
  rows.push_back(row("skew_ff_kg", "skew feed-forward", s.skew_ff_kg, "kg"));
  rows.push_back(force_row("coulomb_ff_a_n", "friction feed-forward A", s.coulomb_ff_a_n, s.peak_force_a_n));
  rows.push_back(force_row("coulomb_ff_b_n", "friction feed-forward B", s.coulomb_ff_b_n, s.peak_force_b_n));
  rows.push_back(row("coulomb_ramp_m_per_s", "friction feed-forward: full above", s.coulomb_ramp_m_per_s, "m/s"));
  rows.push_back(row("viscous_ff_a_n_s_per_m", "viscous feed-forward A", s.viscous_ff_a_n_s_per_m, "N*s/m"));
  rows.push_back(row("viscous_ff_b_n_s_per_m", "viscous feed-forward B", s.viscous_ff_b_n_s_per_m, "N*s/m"));
  rows.push_back(force_row("offset_a_n", "offset A", s.offset_a_n, s.peak_force_a_n));
  rows.push_back(force_row("offset_b_n", "offset B", s.offset_b_n, s.peak_force_b_n));
  rows.push_back(row("period_s", "servo period", s.period_s, "s"));
  return rows;
}

std::vector<report::SheetTable> settings_sheets(const Evaluation& evaluation) {
  std::vector<report::SheetTable> sheets;
  const Exports exports = exports_of(evaluation);
  if (exports.forms.empty()) return sheets;
  const exporting::Comparison beside = exporting::beside_each_other(exports.forms);
  sheets.push_back({.title = "In a controller's terms", .heads = beside.heads, .notes = {}, .rows = beside.rows});
  for (const exporting::SettingsForm& form : exports.forms) {
    if (form.form != "pi" && form.form != "sides") {
      for (const std::string& remark : form.remarks) sheets[0].notes.push_back(form.title + ": " + remark);
      continue;
    }
    report::SheetTable sheet{
        .title = form.title, .heads = {"setting", "symbol", "value", "from"}, .notes = form.remarks};
    for (const exporting::SheetRow& row : form.rows)
      sheet.rows.push_back(
          {row.name, row.symbol,
           row.value ? fmt::format("{:.6g}{}", *row.value, row.unit == "1" ? "" : " " + row.unit) : "unknown",
           row.how});
    sheets.push_back(std::move(sheet));
  }
  return sheets;
}

report::ReportInput record_sheet(const Commissioned& done, const std::string& program,
                                 const std::string& evaluated_at, const std::string& result_text) {
  report::ReportInput input{.machine = done.evaluation.machine,
                            .stations = done.evaluation.stations,
                            .inputs = input_files(done.evaluation),
                            .overrides = overrides(done.evaluation),
                            .settings = settings_rows(done.evaluation),
                            .sheets = settings_sheets(done.evaluation),
                            .job = done.evaluation.job,
                            .next_step = done.next.what,
                            .program_version = program,
                            .evaluated_at = evaluated_at,
                            .result_sha256 = base::sha256_hex(result_text)};
  for (const base::StationOutcome& outcome : input.stations)
    for (const auto& [key, value] : outcome.result.values)
      if (std::holds_alternative<double>(value.value) || std::holds_alternative<std::monostate>(value.value))
        input.methods[outcome.result.name + "." + key] = number_method(outcome.result.name, key, value);
  for (const machine::Described& line : machine::describe(done.evaluation.machine))
    input.machine_rows.emplace_back(line.label, line.value);
  return input;
}

}  // namespace evenbeam::workflow
