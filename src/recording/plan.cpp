#include "recording/plan.h"

#include <algorithm>
#include <array>
#include <tuple>
#include <utility>

#include "machine/settings_file.h"

namespace evenbeam::recording {
namespace {

constexpr std::array<std::pair<ColumnRole, std::string_view>, 14> kRoles{{
    {ColumnRole::unknown, "?"},
    {ColumnRole::ignored, "ignored"},
    {ColumnRole::time, "time"},
    {ColumnRole::reference_a, "reference_a"},
    {ColumnRole::reference_b, "reference_b"},
    {ColumnRole::reference_both, "reference_both"},
    {ColumnRole::position_a, "position_a"},
    {ColumnRole::position_b, "position_b"},
    {ColumnRole::output_a, "output_a"},
    {ColumnRole::output_b, "output_b"},
    {ColumnRole::latched_a, "latched_a"},
    {ColumnRole::latched_b, "latched_b"},
    {ColumnRole::reference_y, "reference_y"},
    {ColumnRole::position_y, "position_y"},
}};

bool same_column(const ColumnPlan& a, const ColumnPlan& b) { return a.role == b.role && a.unit == b.unit; }

bool same_loops(const std::optional<machine::Settings>& a, const std::optional<machine::Settings>& b) {
  if (!a || !b) return a.has_value() == b.has_value();
  return machine::write_settings(*a) == machine::write_settings(*b);  // reads back to the bit, so no less exact
}

auto texts_and_numbers(const RecordingPlan& p) {
  return std::tie(p.file, p.guessed, p.skip, p.kind, p.kind_reason, p.names, p.units.time, p.units.position,
                  p.units.output, p.fallback_units.time, p.fallback_units.position, p.fallback_units.output,
                  p.separator, p.decimal_sign, p.rate_hz, p.carriage_y_m, p.payload_kg, p.temperature_k, p.b_late_s,
                  p.excitation_period_s, p.excited, p.switch_on, p.loops_name, p.notes);
}

}  // namespace

bool same_entry(const RecordingPlan& a, const RecordingPlan& b) {
  return texts_and_numbers(a) == texts_and_numbers(b) &&
         std::equal(a.columns.begin(), a.columns.end(), b.columns.begin(), b.columns.end(), same_column) &&
         same_loops(a.loops, b.loops);
}

std::string to_text(ColumnRole role) {
  for (const auto& [value, name] : kRoles)
    if (value == role) return std::string(name);
  return "?";
}

std::optional<ColumnRole> column_role_of(std::string_view text) {
  for (const auto& [value, name] : kRoles)
    if (name == text) return value;
  return std::nullopt;
}

}  // namespace evenbeam::recording
