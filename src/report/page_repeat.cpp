// The appendix from which the work can be repeated: machine, files with digests, versions, settings in all forms.
#include <fmt/format.h>

#include <algorithm>

#include "report/html.h"
#include "report/page.h"
#include "report/text.h"

namespace evenbeam::report {
namespace {

std::string settings_value(const SettingsRow& row, const PersonUnits& units, const Words& words) {
  if (!row.value) return escape(row.text.empty() ? std::string(words.unknown) : row.text);
  const ShownUnit unit = shown_unit(row.unit, units);
  return escape(with_unit(shown_number(*row.value, unit), unit));
}

// Exact to read back, in SI: what a controller or a script takes over.
std::string settings_si(const SettingsRow& row) {
  if (!row.value) return "";
  return escape(with_unit(fmt::format("{}", *row.value), {1, typographic(row.unit)}));
}

std::string full_sheet(const std::vector<const SettingsRow*>& rows, const PersonUnits& units, const Words& words) {
  const bool any_peak =
      std::any_of(rows.begin(), rows.end(), [](const SettingsRow* r) { return r->percent_of_peak.has_value(); });
  const bool any_note = std::any_of(rows.begin(), rows.end(), [](const SettingsRow* r) { return !r->note.empty(); });
  std::vector<Column> columns = {{words.number}, {words.value, true}, {words.si_exact, true}};
  if (any_peak) columns.push_back({words.of_peak, true});
  if (any_note) columns.push_back({words.note});
  columns.push_back({words.key});
  std::vector<std::vector<std::string>> body;
  for (const SettingsRow* row : rows) {
    std::vector<std::string> cells = {escape(row->label), settings_value(*row, units, words), settings_si(*row)};
    if (any_peak) cells.push_back(row->percent_of_peak ? escape(trimmed(*row->percent_of_peak, 3) + " %") : "");
    if (any_note) cells.push_back(escape(row->note));
    cells.push_back(text_element("code", row->key));
    body.push_back(std::move(cells));
  }
  return table(columns, body, "values sheet");
}

// For the first page: label and value only, in two columns.
std::string short_sheet(const std::vector<const SettingsRow*>& rows, const PersonUnits& units, const Words& words) {
  const auto half = [&](size_t from, size_t to) {
    std::vector<std::vector<std::string>> body;
    for (size_t i = from; i < to; ++i) {
      std::string value = settings_value(*rows[i], units, words);
      if (rows[i]->percent_of_peak) value += escape(fmt::format(" ({} %)", trimmed(*rows[i]->percent_of_peak, 3)));
      const std::string note = rows[i]->note.empty() ? "" : " " + text_element("i", rows[i]->note);
      body.push_back({escape(rows[i]->label) + note, value});
    }
    return element("div", table({{words.number}, {words.value, true}}, body, "sheet"));
  };
  const size_t middle = (rows.size() + 1) / 2;
  return element("div", half(0, middle) + (middle < rows.size() ? half(middle, rows.size()) : ""),
                 "class=\"two keep\"") +
         "\n";
}

std::string file_table(const ReportInput& input, const Words& words) {
  std::vector<std::vector<std::string>> body;
  for (const InputFile& f : input.inputs)
    body.push_back({escape(f.name), escape(f.kind), text_element("code", f.sha256)});
  return body.empty()
             ? ""
             : text_element("h3", words.files) + table({{words.file}, {words.kind}, {words.digest}}, body, "files");
}

std::string fact_table(std::string_view head, const std::vector<std::pair<std::string, std::string>>& facts) {
  std::string rows;
  for (const auto& [label, value] : facts)
    rows += element("tr", text_element("th", label, "scope=\"row\"") + text_element("td", value)) + "\n";
  return rows.empty() ? ""
                      : text_element("h3", head) + element("table", element("tbody", rows), "class=\"fact\"") + "\n";
}

std::string sheet_table(const SheetTable& sheet) {
  std::vector<Column> columns;
  for (const std::string& head : sheet.heads) columns.push_back({head, false});
  std::vector<std::vector<std::string>> body;
  for (const std::vector<std::string>& row : sheet.rows) {
    body.emplace_back();
    for (const std::string& cell : row) body.back().push_back(escape(cell));
  }
  std::string out = text_element("h4", sheet.title);
  for (const std::string& note : sheet.notes) out += text_element("p", note, "class=\"small\"");
  return out + table(columns, body, "rows");
}

}  // namespace

std::vector<const SettingsRow*> front_settings(const ReportInput& input) {
  const bool any_front =
      std::any_of(input.settings.begin(), input.settings.end(), [](const SettingsRow& r) { return r.front; });
  std::vector<const SettingsRow*> out;
  for (const SettingsRow& row : input.settings)
    if (row.front || (!any_front && row.form == input.settings[0].form)) out.push_back(&row);
  return out;
}

std::string settings_tables(const ReportInput& input, const Words& words, bool front_only) {
  std::vector<std::string> forms;
  for (const SettingsRow& row : input.settings)
    if (std::find(forms.begin(), forms.end(), row.form) == forms.end()) forms.push_back(row.form);
  if (forms.empty()) return text_element("p", words.settings_none) + "\n";
  const std::vector<const SettingsRow*> front = front_settings(input);
  std::string out;
  for (const std::string& form : forms) {
    std::vector<const SettingsRow*> rows;
    for (const SettingsRow& row : input.settings)
      if (row.form == form && (!front_only || std::find(front.begin(), front.end(), &row) != front.end()))
        rows.push_back(&row);
    if (rows.empty()) continue;
    if (!front_only && !form.empty()) out += text_element("h4", form);
    out += (front_only ? short_sheet : full_sheet)(rows, person_units(input), words);
  }
  return out;
}

// What the first page may have cut, whole.
std::string reasons_and_cautions(const ReportInput& input, const Words& words) {
  std::string reasons, cautions;
  for (const Override& o : input.overrides)
    reasons += element("li", text_element("b", o.station + ", " + o.finding) + ": " + escape(o.reason) + " " +
                                 text_element("span", o.who, "class=\"who\""));
  for (const std::string& text : input.cautions) cautions += text_element("li", text);
  std::string out;
  if (!reasons.empty()) out += text_element("h3", words.overrides) + element("ul", reasons, "class=\"plain\"");
  if (!cautions.empty()) out += text_element("h3", words.cautions) + element("ul", cautions, "class=\"plain\"");
  if (!input.next_step.empty())
    out += text_element("h3", words.to_do_first) + text_element("p", input.next_step, "class=\"next\"");
  return out;
}

std::string repeat_part(const ReportInput& input, const Words& words) {
  std::string out = text_element("h2", words.part_repeat, "class=\"part-head\"");
  out += text_element("p", words.repeat_text);
  out += fact_table(words.versions, {{std::string(words.job), input.job},
                                     {std::string(words.program), input.program_version},
                                     {std::string(words.evaluated), input.evaluated_at},
                                     {std::string(words.result_digest), input.result_sha256}});
  out += file_table(input, words);
  out += fact_table(words.machine, input.machine_rows);
  out += reasons_and_cautions(input, words);
  if (!input.settings.empty()) out += text_element("h3", words.all_settings) + settings_tables(input, words, false);
  for (const SheetTable& sheet : input.sheets) out += sheet_table(sheet);
  return element("section", "\n" + out, "class=\"part\" id=\"repeat\"") + "\n";
}

}  // namespace evenbeam::report
