#include "recording/plan.h"

#include <array>
#include <utility>

namespace evenbeam::recording {
namespace {

constexpr std::array<std::pair<ColumnRole, std::string_view>, 12> kRoles{{
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
}};

}  // namespace

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
