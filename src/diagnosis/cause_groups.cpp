#include "diagnosis/cause_groups.h"

#include <algorithm>
#include <array>

#include "diagnosis/ranking.h"

namespace evenbeam::diagnosis {
namespace {

struct Member {
  std::string_view kind, cause;  // beginning of the kind
};

constexpr std::array kMembers{
    // Which output moves which side: crossed outputs show as wrong signs too, and the same look at the plugs mends
    // it.
    Member{"nudge_crossed", "wiring"},
    Member{"nudge_sign_", "wiring"},
    Member{"nudge_count_direction", "wiring"},
    // One newton commanded is not one: by the pushes and by the fit.
    Member{"nudge_strength", "force_per_output"},
    Member{"unequal_force_per_output", "force_per_output"},
    // Fight or skew that goes with the speed: reading late and dragging look the same in closed loops.
    Member{"unequal_sampling", "late_or_drag"},
    Member{"drag_or_late_sampling", "late_or_drag"},
    Member{"unequal_viscous_friction", "late_or_drag"},
    // What a search latched: mark, its switch, its latch.
    Member{"marks_run", "mark_or_latch"},
    Member{"marks_marks_difference", "mark_or_latch"},
    Member{"marks_latch_delay", "mark_or_latch"},
    Member{"marks_scatter", "mark_or_latch"},
    Member{"marks_mark_near_switch_edge", "mark_or_latch"},
    // The skew that is commanded.
    Member{"commands_apart", "commands_apart"},
    // A side's force is cut off: by what it is asked, and by what it moves.
    Member{"force_at_limit", "force_cut_off"},
    Member{"force_clipped", "force_cut_off"},
    // The skew loop is too strong: what it gives and what that does.
    Member{"skew_gain_not_as_stated", "skew_gain"},
    Member{"hunts_at_rest", "skew_gain"},
    // Strain along the rails and a cable on one side make the same slope of the fight.
    Member{"fight_grows_along_x", "strain_along_x"},
    Member{"pull_grows_along_x", "strain_along_x"},
    Member{"springs_back", "held_against_guides"},
    Member{"ready_skew_released", "held_against_guides"},
    // What moves is not what is stated.
    Member{"mass_not_as_stated", "payload"},
    Member{"share_slope_not_as_stated", "payload"},
    // A fight at rest, and what it does to the motors.
    Member{"fight_at_standstill", "fight_at_rest"},
    Member{"overload_at_rest", "fight_at_rest"},
    // Not known by name.
    Member{"law_not_followed", kUnknownCause},
    Member{"fight_unexplained", kUnknownCause},
};

}  // namespace

std::string cause_of(std::string_view kind) {
  const auto row =
      std::find_if(kMembers.begin(), kMembers.end(), [&](const Member& m) { return kind.starts_with(m.kind); });
  if (row != kMembers.end()) return std::string(row->cause);
  if (kind.ends_with("_a") || kind.ends_with("_b"))
    kind.remove_suffix(2);  // the side is the evidence's, not the cause's
  return std::string(kind);
}

std::vector<CauseGroup> grouped(const std::vector<base::Finding>& ranked) {
  std::vector<CauseGroup> out;
  for (std::size_t k = 0; k < ranked.size(); ++k) {
    const std::string cause = cause_of(kind_of(ranked[k]));
    const auto same = std::find_if(out.begin(), out.end(), [&](const CauseGroup& g) { return g.cause == cause; });
    if (same == out.end())
      out.push_back({cause, {k}});
    else
      same->members.push_back(k);
  }
  return out;
}

}  // namespace evenbeam::diagnosis
