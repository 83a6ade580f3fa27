#include "exporting/settings_sheet.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "exporting/loop_forms.h"
#include "exporting/scale.h"
#include "servo/loop_law.h"

namespace evenbeam::exporting {
namespace {

std::string factors_text(const Scale& scale) {
  const auto one = [](const std::string& unit, const std::optional<double>& si, const char* si_unit) {
    if (!si) return fmt::format("1 {} = unknown", unit);
    return fmt::format("1 {} = {:.9g} {}", unit, *si, si_unit);
  };
  return fmt::format("{}; {}; {}", one(scale.length, scale.length_m, "m"), one(scale.time, scale.time_s, "s"),
                     one(scale.force, scale.force_n, "N commanded"));
}

void add_side_factor(const char* key, const char* name, const std::optional<double>& factor, const Scale& scale,
                     SettingsForm& form) {
  if (factor == 1.0) return;
  SheetRow row{.key = key, .symbol = "", .name = name, .value = factor, .unit = "1"};
  row.how = factor ? "the sides differ; the form's unit is A's"
                   : fmt::format("unknown: machine.toml lacks {}", fmt::join(scale.missing, " and "));
  form.rows.push_back(row);
}

SettingsForm scaled(const machine::Settings& settings, const Scale& scale) {
  SettingsForm form{.form = scale.form, .title = scale.title};
  if (scale.form != "si") form.remarks.push_back(factors_text(scale));
  if (scale.form == "si") form.remarks.push_back("forces in commanded (nameplate) newtons; docs/loop-law.md");
  for (const Carried& setting : carried(settings)) form.rows.push_back(in_scale(setting, scale));
  add_side_factor("position_b_factor", "B's position times this before the law", scale.position_b, scale, form);
  add_side_factor("output_b_factor", "B's output of the law times this", scale.output_b, scale, form);
  return form;
}

// What a controller that wants difference equations takes: T/Ti, the filter's factor, the biquads' coefficients.
void add_coefficients(const std::string& loop, const servo::CoordinateLaw& law, SettingsForm& form) {
  const auto add = [&](const std::string& key, const char* symbol, const std::string& name, double value,
                       const char* how) {
    form.rows.push_back({loop + key, symbol, loop + ": " + name, value, "1", how});
  };
  add("_integral_factor", "T/Ti", "integral gain a cycle (0 = none)", law.integral_factor, "T/Ti");
  add("_filter_factor", "alpha", "velocity filter's factor (1 = none)", law.filter_factor, "1 - exp(-2 pi fv T)");
  for (int i = 0; i < law.filter_count; ++i) {
    const servo::BiquadLaw& f = law.filters[static_cast<size_t>(i)];
    const std::pair<const char*, double> parts[] = {
        {"b0", f.b0}, {"b1", f.b1}, {"b2", f.b2}, {"a1", f.a1}, {"a2", f.a2}};
    for (const auto& [symbol, value] : parts)
      add(fmt::format("_filters[{}].{}", i, symbol), symbol, fmt::format("filter {}", i + 1), value,
          "bilinear, pre-warped at f0");
  }
}

std::string value_text(const SheetRow& row) { return row.value ? fmt::format("{:.6g}", *row.value) : "unknown"; }

}  // namespace

const std::vector<std::string>& form_names() {
  static const std::vector<std::string> names{"si", "user", "percent", "ampere", "counts", "cycle", "pi", "sides"};
  return names;
}

std::vector<SettingsForm> settings_forms(const machine::Settings& settings, const machine::Machine& machine) {
  const servo::LoopLaw law = servo::prepare(settings);
  const std::vector<Scale> all = scales(settings, machine);
  std::vector<SettingsForm> forms;
  for (const Scale& scale : all) forms.push_back(scaled(settings, scale));
  SettingsForm& cycle = forms.back();
  add_coefficients("mean", law.mean, cycle);
  add_coefficients("skew", law.skew, cycle);
  if (machine.servo_period_s && *machine.servo_period_s != settings.period_s)
    cycle.remarks.push_back(
        fmt::format("machine.toml says servo_period {:g} s, the settings {:g} s: the settings' is "
                    "used; gains a cycle hold for no other",
                    *machine.servo_period_s, settings.period_s));
  forms.push_back(pi_form(settings));
  forms.push_back(sides_form(settings, all));
  return forms;
}

std::string to_text(const SettingsForm& form) {
  size_t key = 3, symbol = 6, value = 5, unit = 4;
  for (const SheetRow& row : form.rows) {
    key = std::max(key, row.key.size()), symbol = std::max(symbol, row.symbol.size());
    value = std::max(value, value_text(row).size()), unit = std::max(unit, row.unit.size());
  }
  std::string text = fmt::format("{} ({})\n", form.title, form.form);
  for (const std::string& remark : form.remarks) text += fmt::format("  note: {}\n", remark);
  for (const SheetRow& row : form.rows)
    text += fmt::format("  {:<{}}  {:<{}}  {:>{}}  {:<{}}  {} [{}]\n", row.key, key, row.symbol, symbol,
                        value_text(row), value, row.unit, unit, row.name, row.how);
  return text;
}

Comparison beside_each_other(const std::vector<SettingsForm>& forms) {
  Comparison out{.heads = {"setting"}};
  std::vector<const SettingsForm*> shown;
  for (const SettingsForm& form : forms) {
    const bool unknown = std::any_of(form.rows.begin(), form.rows.end(), [](const SheetRow& r) { return !r.value; });
    if (form.form == "pi" || form.form == "sides" || (form.form == "ampere" && unknown)) continue;
    shown.push_back(&form), out.heads.push_back(form.title);
  }
  if (shown.empty()) return out;
  for (const SheetRow& first : shown.back()->rows) {
    std::vector<std::string> line{first.name + (first.symbol.empty() ? "" : ", " + first.symbol)};
    size_t cells = 0;
    for (const SettingsForm* form : shown) {
      line.emplace_back();
      for (const SheetRow& row : form->rows)
        if (row.key == first.key) line.back() = value_text(row) + (row.unit == "1" ? "" : " " + row.unit), ++cells;
    }
    if (cells > 1) out.rows.push_back(std::move(line));  // coefficients of one form alone stand in its own sheet
  }
  return out;
}

}  // namespace evenbeam::exporting
