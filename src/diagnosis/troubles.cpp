#include "diagnosis/troubles.h"

#include <algorithm>
#include <string>

namespace evenbeam::diagnosis {
namespace {

// clang-format off
const std::vector<Trouble>& table() {
  static const std::vector<Trouble> rows{
      {1, "ends home on opposite sides of their switches", {"elsewhere_marks_search_can_fail"},
       "a search recorded with both switches' states; range of starts and switches in [homing]"},
      {2, "mark a pitch off", {"marks_run_"}, "ten searches, mark_pitch stated"},
      {3, "mark next to its switch's edge", {"marks_mark_near_switch_edge"}, "ten searches from other places"},
      {4, "one side searches, the other is held", {"commands_apart"}, "a search with both references"},
      {5, "start on a pressed switch", {"elsewhere_marks_search_can_fail"},
       "a search from that start with both switches' states"},
      {6, "every second search fails", {"marks_run_", "marks_marks_difference"}, "ten searches, none left out"},
      {7, "a stop reaches the other side late", {"one_side_off_"}, "a stop on purpose at a tenth of the speed"},
      {8, "switch or mark dead", {"marks_run_", "marks_marks_difference"}, "a search by hand along the whole leg"},
      {9, "second switch asked before the first is left", {}, "states of both switches through one search"},
      {10, "switches crossed or both as one", {}, "press each switch by hand and see which input answers"},
      {11, "direction, phase or plugs of a side crossed", {"nudge_sign_", "nudge_crossed", "nudge_count_direction"},
       "pushes of each side alone"},
      {12, "fight at rest", {"fight_at_standstill", "commands_apart"}, "skew steps at rest"},
      {13, "overload at standstill, slowly", {"overload_at_rest", "fight_at_standstill"},
       "half an hour at rest; continuous_force in machine.toml"},
      {14, "follower's lag grows with speed", {"b_follows_a", "unequal_sampling", "drag_or_late_sampling"},
       "the same move at three speeds with both references"},
      {15, "commands of the sides differ", {"commands_apart"}, "a move with both references"},
      {16, "following-error trips unequal", {"tripped_in_motion", "one_side_off_"}, "both drives' limits and times"},
      {17, "skew trip too tight", {"tripped_in_motion", "elsewhere_trips_skew_trip"},
       "moves at top acceleration at both carriage ends; guide limit stated"},
      {18, "skew trip too wide", {"elsewhere_trips_faults_not_held", "elsewhere_trips_skew_trip"},
       "guide limit in machine.toml; one drive off on purpose at low speed"},
      {19, "crash when one drive faults", {"one_side_off_", "elsewhere_trips_latency_budget", "elsewhere_trips_captured"},
       "a fault released on purpose at a tenth of the speed"},
      {20, "brakes open in the wrong order", {"ready_enable_order"}, "a switch-on with both brake outputs; delays stated"},
      {21, "brake of one side drags", {"unequal_friction"}, "a slow jog, brakes released by hand and by the drive"},
      {22, "brake closes before it stands", {"ready_disable_order"}, "a stop with both brake outputs; delays stated"},
      {23, "rails out of parallel", {"fight_grows_along_x"}, "a slow jog over the whole way, there and back"},
      {24, "tight spot on a rail", {"tight_spot_"}, "the same"},
      {25, "pitches differ", {"fight_grows_along_x"}, "a laser or long scale on both sides"},
      {26, "counts a metre differ", {"fight_grows_along_x"}, "a laser or long scale on both sides"},
      {27, "belt tension or drive stiffness differ", {"unequal_drive_stiffness"}, "a multisine on each side"},
      {28, "play in the joints", {"play_"}, "skew steps at rest of half, one and two times the play"},
      {29, "heat moves the stress-free skew", {"marks_marks_drift"}, "searches cold and warm"},
      {30, "cables pull", {"pull_grows_along_x_", "pull_on_the_bridge"}, "a slow jog with the chain off its driver"},
      {31, "share moves with carriage and payload", {"share_slope_not_as_stated"},
       "a move at three carriage places, with and without payload"},
      {32, "payload changed", {"mass_not_as_stated", "share_slope_not_as_stated"}, "weigh it, or a known force"},
      {33, "skew changes with each switch-on", {"switch_ons_apart"}, "three switch-ons with nobody near"},
      {34, "square offset with the wrong sign", {"elsewhere_square_"}, "the diagonals again, after the offset"},
      {35, "resonance at one carriage end", {"elsewhere_loops_"}, "a response at both carriage ends"},
      {36, "swings with cross-coupling on", {"skew_gain_not_as_stated", "hunts_at_rest"},
       "the rest after a move with the skew loop's gain halved"},
      {37, "clocks drift apart", {"clocks_drift"}, "the same move again a quarter of an hour later"},
      {38, "counts lost", {"position_jumps_"}, "a move there and back; the marks again"},
      {39, "sides stop in their own dead bands", {"dead_band_"}, "ten seconds at rest after a move"},
      {40, "force at its limit", {"force_at_limit_", "force_clipped_"}, "a move at half the acceleration"},
      {41, "springs back at servo-off", {"springs_back_", "ready_skew_released"}, "servo-off and on on record"},
      {42, "switch, flag or mark loose", {"marks_run_", "marks_marks_difference", "marks_scatter"}, "ten searches"},
  };
  return rows;
}
// clang-format on

std::string named_by(const Trouble& t, const std::vector<base::Finding>& findings) {
  std::string out;
  for (const base::Finding& f : findings)
    if (std::any_of(t.kinds.begin(), t.kinds.end(), [&](std::string_view kind) { return f.id.starts_with(kind); }))
      out += (out.empty() ? "" : ", ") + f.id;
  return out;
}

}  // namespace

std::span<const Trouble> troubles() { return table(); }

std::vector<base::Row> trouble_rows(const std::vector<base::Finding>& findings) {
  std::vector<base::Row> out;
  for (const Trouble& t : troubles()) {
    const std::string by = named_by(t, findings);
    const char* const state = t.kinds.empty() ? "no capture tells" : by.empty() ? "not named" : "named";
    out.push_back({{"row", static_cast<double>(t.row)},
                   {"trouble", t.name},
                   {"state", state},
                   {"by", by},
                   {"settle", t.settle}});
  }
  return out;
}

}  // namespace evenbeam::diagnosis
