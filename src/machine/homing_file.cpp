#include "machine/homing_file.h"

#include <fmt/format.h>

#include "units/unit.h"

namespace evenbeam::machine {
namespace {

constexpr double place_limit_m = 500;
constexpr Plausible place_range{-place_limit_m, place_limit_m};
constexpr Plausible angle_range{-100, 100};
constexpr Plausible speed_range{1e-5, 1};
constexpr Plausible acceleration_range{1e-3, 100};
constexpr Plausible delay_range{0, 0.1};
constexpr Plausible doubt_range{0, 0.1};
constexpr Plausible skew_range{0, 0.1};
constexpr Plausible step_range{1e-7, 0.01};
constexpr Plausible width_range{1e-4, 1};
constexpr Plausible force_range{1, 1e6};
constexpr Plausible squareness_range{1e-7, 0.02};
constexpr Plausible loss_range{1e-5, 0.5};

void read_kind(TableReader& table, Homing& homing) {
  homing.reference = table.choice<ReferenceKind>("reference", {{"single_mark", ReferenceKind::single_mark},
                                                               {"periodic", ReferenceKind::periodic},
                                                               {"distance_coded", ReferenceKind::distance_coded},
                                                               {"absolute", ReferenceKind::absolute},
                                                               {"switch_only", ReferenceKind::switch_only},
                                                               {"switch_and_mark", ReferenceKind::switch_and_mark},
                                                               {"hard_stop", ReferenceKind::hard_stop}});
  homing.moves = table
                     .choice<SearchMoves>("moves", {{"both_together", SearchMoves::one_command},
                                                    {"each_alone", SearchMoves::each_its_own}})
                     .value_or(SearchMoves::one_command);
  homing.direction = table.choice<int>("direction", {{"+x", 1}, {"-x", -1}});
  homing.a_leads = table.choice<bool>("leading_side", {{"A", true}, {"B", false}});
}

// Quantities in a list; a trouble and nothing where one is no quantity of that kind.
std::vector<double> read_list(TableReader& table, std::string_view key, std::string_view si_unit,
                              const char* example) {
  std::vector<double> out;
  const auto texts = table.texts(key, example);
  if (!texts) return out;
  const auto wanted = units::find_unit(si_unit)->dimension;
  for (const std::string& text : *texts) {
    const auto found = units::parse_quantity(text);
    if (!found || found->unit.dimension != wanted) {
      table.refuse(key, fmt::format("{} each, with its unit; not '{}'", units::describe(wanted), text),
                   fmt::format("Right: {} = {}.", key, example));
      return {};
    }
    out.push_back(found->value_si);
  }
  return out;
}

void read_stretch(TableReader& table, std::string_view key, const char* example, Stretch& stretch) {
  const std::vector<double> ends = read_list(table, key, "m", example);
  if (ends.empty()) return;
  if (ends.size() != 2 || ends[0] > ends[1] || ends[0] < -place_limit_m || ends[1] > place_limit_m)
    table.refuse(key, "the two ends of a stretch along x, the smaller first, within 500 m",
                 fmt::format("Both count along x whatever the direction of search. Right: {} = {}.", key, example));
  else
    stretch = {ends[0], ends[1]};
}

void read_places(TableReader& table, Homing& homing) {
  homing.mark_b_ahead_m = table.quantity("mark_b_ahead", "m", place_range, "1.2 mm");
  homing.mark_doubt_m = table.quantity("mark_doubt", "m", doubt_range, "0.5 mm");
  read_stretch(table, "start", R"(["-400 mm", "-20 mm"])", homing.start);
  read_stretch(table, "travel", R"(["-600 mm", "800 mm"])", homing.travel);
  read_stretch(table, "switch_a", R"(["-8 mm", "-6 mm"])", homing.a.edge);
  read_stretch(table, "switch_b", R"(["-8 mm", "-6 mm"])", homing.b.edge);
  read_stretch(table, "back_off_a", R"(["-52 mm", "-50 mm"])", homing.a.back_off);
  read_stretch(table, "back_off_b", R"(["-52 mm", "-50 mm"])", homing.b.back_off);
}

}  // namespace

void read_homing(TableReader& table, Homing& homing) {
  read_kind(table, homing);
  read_places(table, homing);
  homing.speed_m_per_s = table.quantity("search_speed", "m/s", speed_range, "20 mm/s");
  homing.acceleration_m_per_s2 = table.quantity("acceleration", "m/s^2", acceleration_range, "0.5 m/s^2");
  homing.latch_delay_s = table.quantity("latch_delay", "s", delay_range, "1 ms");
  homing.start_skew_m = table.quantity("start_skew", "m", skew_range, "1 mm");
  homing.hold_error_m = table.quantity("hold_error", "m", skew_range, "20 um");
  homing.code_step_m = table.quantity("code_step", "m", step_range, "20 um");
  homing.flag_width_m = table.quantity("flag_width", "m", width_range, "6 mm");
  homing.edge_shared = table.yes_no("switch_shared").value_or(false);
  homing.stop_force_n = table.quantity("stop_force", "N", force_range, "80 N");
  homing.stop_force_limit_n = table.quantity("stop_force_limit", "N", force_range, "200 N");
  homing.stop_give_m = table.quantity("stop_give", "m", doubt_range, "0.1 mm");
  homing.kept_zero = table.choice<KeptZero>(
      "kept_zero", {{"A", KeptZero::side_a}, {"B", KeptZero::side_b}, {"middle", KeptZero::middle}});
  homing.axis_zero_m = table.quantity("axis_zero", "m", place_range, "12 mm");
  homing.squareness_wanted_rad = table.quantity("squareness_wanted", "rad", squareness_range, "50 urad");
  homing.thermal_skew_m = table.quantity("thermal_skew", "m", skew_range, "20 um");
}

void read_electrical_angle(TableReader& table, ElectricalAngle& angle) {
  angle.a.read_rad = read_list(table, "read_a", "rad", R"(["31.2 deg", "29.8 deg", "30.9 deg"])");
  angle.b.read_rad = read_list(table, "read_b", "rad", R"(["12.0 deg", "10.8 deg", "11.9 deg"])");
  angle.a.true_rad = table.quantity("true_a", "rad", angle_range, "30 deg");
  angle.b.true_rad = table.quantity("true_b", "rad", angle_range, "30 deg");
  angle.loss_limit = table.number("loss_limit", loss_range, "0.02");
}

}  // namespace evenbeam::machine
