// Made by `causes_pack --from 1001 --count 160 --train` from 104 machines with a finding; do not edit.
#include "diagnosis/odds.h"

namespace evenbeam::diagnosis {
namespace {

constexpr KindWeight kinds[] = {
    {"commands_apart", 0.844},
    {"dead_band_b", 0.030},
    {"drag_or_late_sampling", 0.435},
    {"fight_grows_along_x", 0.337},
    {"fight_unexplained", -0.002},
    {"force_at_limit_a", -0.382},
    {"force_at_limit_b", -0.230},
    {"hunts_at_rest", -0.464},
    {"law_not_followed", -0.276},
    {"marks_marks_difference", -0.933},
    {"marks_marks_drift", 0.772},
    {"marks_run", 0.463},
    {"marks_skew_in_search", 0.139},
    {"nudge_crossed", 0.223},
    {"nudge_sign_b", -0.518},
    {"nudge_strength", 0.082},
    {"one_side_off_b", 0.734},
    {"position_jumps_b", 0.035},
    {"pull_grows_along_x_a", 0.424},
    {"pull_on_the_bridge", 0.727},
    {"tight_spot_a", -0.976},
    {"tight_spot_b", -1.347},
    {"tripped_in_motion", -0.314},
    {"unequal_drive_stiffness", 0.232},
    {"unequal_force_per_output", 0.035},
    {"unequal_friction", -0.116},
    {"unequal_sampling", 0.500},
    {"unequal_sampling_suspected", 0.376},
    {"unequal_viscous_friction", -0.188},
};

}  // namespace

const OddsTable& odds_table() {
  static const OddsTable table{
      .turn = {4.855, 2.282, 2.064, -2.781}, .over = 0.153, .place = -0.475, .others = 0.355, .kinds = kinds};
  return table;
}

}  // namespace evenbeam::diagnosis
