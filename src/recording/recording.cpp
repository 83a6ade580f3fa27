#include "recording/recording.h"

#include <array>

namespace evenbeam::recording {
namespace {

constexpr std::array<std::pair<RunKind, const char*>, 12> kNames{{
    {RunKind::unknown, "unknown"},
    {RunKind::nudge, "nudge"},
    {RunKind::multisine, "multisine"},
    {RunKind::search, "search"},
    {RunKind::test_move, "test_move"},
    {RunKind::slow_jog, "slow_jog"},
    {RunKind::skew_step, "skew_step"},
    {RunKind::fault, "fault"},
    {RunKind::one_side, "one_side"},
    {RunKind::standstill, "standstill"},
    {RunKind::enabling, "enabling"},
    {RunKind::circle, "circle"},
}};

}  // namespace

std::string to_text(RunKind kind) {
  for (const auto& [value, name] : kNames)
    if (value == kind) return name;
  return "unknown";
}

std::optional<RunKind> run_kind_of(const std::string& text) {
  for (const auto& [value, name] : kNames)
    if (text == name) return value;
  return std::nullopt;
}

}  // namespace evenbeam::recording
