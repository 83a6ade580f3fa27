// Made by `causes_pack --from 1001 --count 220 --train` from 155 machines with a finding; do not edit.
#include "diagnosis/odds.h"

namespace evenbeam::diagnosis {
namespace {

constexpr KindWeight kinds[] = {
    {"b_follows_a", 0.242},
    {"clocks_drift", 0.749},
    {"commands_apart", 0.922},
    {"dead_band_b", 0.040},
    {"drag_or_late_sampling", 0.401},
    {"fight_grows_along_x", 0.428},
    {"force_at_limit_a", -0.606},
    {"force_at_limit_b", -0.594},
    {"force_clipped_a", 0.140},
    {"hunts_at_rest", -0.490},
    {"marks_marks_difference", -1.433},
    {"marks_marks_drift", 1.546},
    {"marks_run", 0.441},
    {"marks_skew_in_search", -0.317},
    {"mass_not_as_stated", 0.081},
    {"nudge_crossed", 0.279},
    {"nudge_sign_b", -0.324},
    {"nudge_strength", 0.033},
    {"one_side_off_b", 0.766},
    {"play", -0.629},
    {"position_jumps_b", 0.019},
    {"pull_grows_along_x_a", 0.599},
    {"pull_on_the_bridge", 0.926},
    {"skew_gain_not_as_stated", 0.436},
    {"springs_back", -1.167},
    {"tight_spot_a", -0.769},
    {"tight_spot_b", -0.528},
    {"tripped_in_motion", -0.328},
    {"unequal_drive_stiffness", 0.140},
    {"unequal_force_per_output", -0.001},
    {"unequal_friction", -0.051},
    {"unequal_sampling", 0.245},
    {"unequal_sampling_suspected", 0.117},
    {"unequal_viscous_friction", -0.192},
};

}  // namespace

const OddsTable& odds_table() {
  static const OddsTable table{.turn = {4.964, 2.251, 2.738, 0.000},
                               .over = 0.516,
                               .place = -0.647,
                               .others = 0.223,
                               .more = 1.255,
                               .temperature = 0.816,
                               .kinds = kinds};
  return table;
}

}  // namespace evenbeam::diagnosis
