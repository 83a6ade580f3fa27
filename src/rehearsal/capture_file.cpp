#include "rehearsal/capture_file.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "machine/settings_file.h"

namespace evenbeam::rehearsal {
namespace {

struct Column {
  const char* name;
  const std::vector<double>* values;
  double unit;
  int digits;
};

void put(std::string& text, double value, int digits, bool decimal_comma) {
  if (std::isnan(value)) {
    text += "nan";
    return;
  }
  std::string number = fmt::format("{:.{}f}", value, digits);
  if (decimal_comma) std::replace(number.begin(), number.end(), '.', ',');
  text += number;
}

}  // namespace

std::optional<FileForm> file_form_of(const std::string& text) {
  if (text == "comma") return FileForm::comma;
  if (text == "semicolon") return FileForm::semicolon;
  if (text == "tab") return FileForm::tab;
  return std::nullopt;
}

std::string capture_text(const SimulatedCapture& c, const VirtualMachine& m, FileForm form) {
  const simulation::RunSeries& s = c.series;
  const double count = std::min(m.gantry.effects.a.count_m > 0 ? m.gantry.effects.a.count_m : 1e-7,
                                m.gantry.effects.b.count_m > 0 ? m.gantry.effects.b.count_m : 1e-7);
  const int places = std::clamp(static_cast<int>(std::ceil(-std::log10(count / 4 * 1e3))), 3, 9);
  std::vector<Column> columns = {{"t_s", &s.time_s, 1, 6}};
  const auto pair = [&](const char* a, const std::vector<double>& of_a, double unit_a, const char* b,
                        const std::vector<double>& of_b, double unit_b, int digits) {
    if (c.has_a) columns.push_back({a, &of_a, unit_a, digits});
    if (c.has_b) columns.push_back({b, &of_b, unit_b, digits});
  };
  pair("ref_a_mm", s.reference_a_m, 1e-3, "ref_b_mm", s.reference_b_m, 1e-3, places);
  pair("pos_a_mm", s.position_a_m, 1e-3, "pos_b_mm", s.position_b_m, 1e-3, places);
  pair("out_a_pct", s.force_a_n, m.loops.peak_force_a_n / 100, "out_b_pct", s.force_b_n, m.loops.peak_force_b_n / 100,
       4);
  if (!c.latched_a_m.empty()) {
    columns.push_back({"latched_a_mm", &c.latched_a_m, 1e-3, places});
    columns.push_back({"latched_b_mm", &c.latched_b_m, 1e-3, places});
  }
  const char separator = form == FileForm::comma ? ',' : form == FileForm::semicolon ? ';' : '\t';
  std::string text = form == FileForm::semicolon ? "\xEF\xBB\xBF" : "";
  for (const Column& column : columns)
    text += (&column == &columns.front() ? "" : std::string(1, separator)) + column.name;
  text += '\n';
  for (std::size_t k = 0; k < s.time_s.size(); k += static_cast<std::size_t>(c.every)) {
    for (const Column& column : columns) {
      if (&column != &columns.front()) text += separator;
      put(text, (*column.values)[k] / column.unit, column.digits, form == FileForm::semicolon);
    }
    text += '\n';
  }
  return text;
}

std::string loops_text(const std::string& name, const machine::Settings& settings) {
  // The text of a settings.toml, its format line left out and its tables hung below [loops.NAME].
  std::string text = machine::write_settings(settings);
  text.erase(0, text.find('\n') + 1);
  for (const char* table : {"[mean]", "[skew]"})
    text.replace(text.find(table), 6, fmt::format("[loops.{}.{}]", name, std::string(table + 1, 4)));
  return fmt::format("\n[loops.{}]\n{}", name, text);
}

std::string entry_text(const SimulatedCapture& c) {
  std::string text = fmt::format("\n# {}\n[files.\"{}\"]\nkind = \"{}\"\n", c.what, c.file, to_text(c.kind));
  if (c.excited != recording::Excited::unknown)
    text += fmt::format("excited = \"{}\"\nexcitation_period = \"{} s\"\n",
                        c.excited == recording::Excited::a ? "a" : "b", c.excitation_period_s);
  text += fmt::format("carriage_y = \"{} m\"\npayload = \"{} kg\"\nswitch_on = \"{}\"\nb_late = \"0 s\"\n",
                      c.carriage_y_m, c.payload_kg, c.switch_on);
  if (!c.loops.empty()) text += fmt::format("loops = \"{}\"\n", c.loops);
  return text;
}

}  // namespace evenbeam::rehearsal
