#include "machine/machine_file.h"

#include <fmt/format.h>

#include <cmath>
#include <vector>

#include "machine/force_test_file.h"
#include "machine/homing_file.h"
#include "machine/side_file.h"
#include "machine/thermal_file.h"
#include "machine/toml_reader.h"
#include "units/unit.h"

namespace evenbeam::machine {
namespace {

constexpr const char* machine_format = "evenbeam.machine/1";

// What a gantry can be. Outside, a unit or a decimal point is wrong (docs/formats.md lists the same ranges).
constexpr Plausible span_range{0.05, 100};
constexpr Plausible bridge_mass_range{0.01, 1e5};
constexpr Plausible inertia_range{1e-4, 1e8};
constexpr Plausible part_mass_range{0, 1e4};
constexpr Plausible payload_range{0, 1e5};
constexpr Plausible ahead_range{-5, 5};
constexpr Plausible across_range{-50, 50};
constexpr Plausible spacing_range{0.01, 10};
constexpr Plausible rating_range{100, 1e7};
constexpr Plausible safety_range{0.5, 50};
constexpr Plausible skew_range{1e-8, 0.1};
constexpr Plausible moment_range{0.1, 1e7};
constexpr Plausible yaw_stiffness_range{1, 1e12};
constexpr Plausible force_limit_range{1, 1e7};
constexpr Plausible turn_range{1e-6, 0.2};
constexpr Plausible gap_range{1e-6, 0.01};
constexpr Plausible head_range{1e-3, 5};
constexpr Plausible travel_range{0.01, 500};
constexpr Plausible distance_range{1e-4, 500};
constexpr Plausible speed_range{1e-4, 30};
constexpr Plausible acceleration_range{1e-3, 500};
constexpr Plausible jerk_range{1e-2, 1e6};
constexpr Plausible window_range{1e-8, 0.01};
constexpr Plausible period_range{10e-6, 20e-3};
constexpr Plausible delay_range{0, 20};

// Text of a unit for messages of people's lengths: "1.1 m".
std::string metres(double value) { return fmt::format("{:g} m", value); }

void read_unit(TableReader& root, std::string_view key, std::string_view si, const char* example, std::string& unit) {
  const auto text = root.text(key, example);
  if (!text) return;
  const auto found = units::find_unit(*text);
  const auto wanted = units::find_unit(si)->dimension;
  if (found && found->dimension == wanted)
    unit = *text;
  else
    root.refuse(key, "the unit of " + units::describe(wanted), fmt::format("Right: {} = \"{}\".", key, example));
}

void read_top(TableReader& root, Machine& machine) {
  machine.name = root.text("name", "Gantry 3").value_or("");
  machine.span_m = root.quantity("span", "m", span_range, "2.2 m").value_or(0);
  if (!root.has("span"))
    root.missing("span", "the distance between the two rails, the one value that must be there", "\"2.2 m\"");
  machine.axis_tilt = root.text("axis_tilt", "rails level").value_or("");
  const auto attitude = root.choice<std::string>("home_attitude", {{"free", "free"}, {"square", "square"}});
  if (attitude) machine.home_attitude = attitude;
  read_unit(root, "length_unit", "m", "mm", machine.length_unit);
  read_unit(root, "force_unit", "N", "N", machine.force_unit);
}

void read_bridge(TableReader& table, Machine& machine) {
  machine.bridge_mass_kg = table.quantity("mass", "kg", bridge_mass_range, "185 kg");
  machine.bridge_centre_y_m = table.quantity("centre_y", "m", across_range, "0.05 m");
  machine.bridge_inertia_kg_m2 = table.quantity("yaw_inertia", "kg*m^2", inertia_range, "75 kg*m^2");
  const auto each = table.quantity("end_mass", "kg", part_mass_range, "24 kg");
  machine.end_mass_a_kg = table.quantity("end_mass_a", "kg", part_mass_range, "24 kg");
  machine.end_mass_b_kg = table.quantity("end_mass_b", "kg", part_mass_range, "24 kg");
  if (!machine.end_mass_a_kg) machine.end_mass_a_kg = each;
  if (!machine.end_mass_b_kg) machine.end_mass_b_kg = each;
  if (machine.bridge_centre_y_m && machine.span_m > 0 && std::abs(*machine.bridge_centre_y_m) > machine.span_m / 2)
    table.refuse("centre_y",
                 fmt::format("a centre between the rails, at most {} from the middle", metres(machine.span_m / 2)),
                 "0 is the middle; minus is towards side A. Right: centre_y = \"0.05 m\".");
}

void check_on_bridge(TableReader& table, std::string_view key, const std::optional<double>& y_m, double span_m) {
  if (y_m && span_m > 0 && std::abs(*y_m) > span_m / 2)
    table.refuse(key, fmt::format("a place between the rails, from {:g} m to {:g} m", -span_m / 2, span_m / 2),
                 "0 is the middle of the bridge; minus is towards side A.");
}

void read_carriage(TableReader& table, Machine& machine) {
  machine.carriage_mass_kg = table.quantity("mass", "kg", part_mass_range, "62 kg");
  machine.carriage_ahead_m = table.quantity("ahead", "m", ahead_range, "80 mm");
  machine.carriage_min_y_m = table.quantity("min_y", "m", across_range, "-0.85 m");
  machine.carriage_max_y_m = table.quantity("max_y", "m", across_range, "0.85 m");
  machine.carriage_y_m = table.quantity("stands_at_y", "m", across_range, "0.4 m");
  machine.payload_min_kg = table.quantity("payload_min", "kg", payload_range, "0 kg").value_or(0);
  machine.payload_max_kg = table.quantity("payload_max", "kg", payload_range, "25 kg");
  check_on_bridge(table, "min_y", machine.carriage_min_y_m, machine.span_m);
  check_on_bridge(table, "max_y", machine.carriage_max_y_m, machine.span_m);
  check_on_bridge(table, "stands_at_y", machine.carriage_y_m, machine.span_m);
  const auto& low = machine.carriage_min_y_m;
  const auto& high = machine.carriage_max_y_m;
  if (low && high && *low >= *high)
    table.refuse("min_y", fmt::format("less than max_y, {}", metres(*high)),
                 "min_y is the end of the carriage's travel nearest to side A, max_y the other.");
  else if (machine.carriage_y_m && ((low && *machine.carriage_y_m < *low) || (high && *machine.carriage_y_m > *high)))
    table.refuse("stands_at_y", "a place within min_y to max_y", "Correct the place or the travel.");
  if (machine.payload_max_kg && *machine.payload_max_kg < machine.payload_min_kg)
    table.refuse("payload_max", fmt::format("at least payload_min, {:g} kg", machine.payload_min_kg),
                 "Right: payload_min = \"0 kg\", payload_max = \"25 kg\".");
}

void read_sides(TableReader& both, TableReader& only_a, TableReader& only_b, Machine& machine) {
  SideDraft shared;
  read_side(both, shared);
  SideDraft a = shared, b = shared;
  read_side(only_a, a);
  read_side(only_b, b);
  machine.a = a.side;
  machine.b = b.side;
  machine.brake_a = a.brake;
  machine.brake_b = b.brake;
  machine.enable_a = a.enable;
  machine.enable_b = b.enable;
}

void read_guides(TableReader& table, Guides& guides) {
  guides.ends =
      table
          .choice<EndKind>(
              "ends", {{"bolted", EndKind::bolted}, {"pivoted", EndKind::pivoted}, {"flexure", EndKind::flexure}})
          .value_or(EndKind::unknown);
  guides.carriages_a_side = table.whole_number("carriages_a_side", {1, 12}, "2");
  guides.spacing_m = table.quantity("spacing", "m", spacing_range, "260 mm");
  guides.static_rating_n = table.quantity("static_rating", "N", rating_range, "51 kN");
  guides.dynamic_rating_n = table.quantity("dynamic_rating", "N", rating_range, "31 kN");
  guides.static_safety = table.number("static_safety", safety_range, "2");
  guides.stated_skew_limit_m = table.quantity("stated_skew_limit", "m", skew_range, "1.5 mm");
  guides.stated_yaw_moment_limit_n_m = table.quantity("stated_yaw_moment_limit", "N*m", moment_range, "800 N*m");
  guides.yaw_stiffness_n_m_per_rad = table.quantity("yaw_stiffness", "N*m/rad", yaw_stiffness_range, "400 kN*m/rad");
  guides.drive_force_limit_n = table.quantity("drive_force_limit", "N", force_limit_range, "4 kN");
  guides.joint_moment_limit_n_m = table.quantity("joint_moment_limit", "N*m", moment_range, "2 kN*m");
  guides.joint_turn_limit_rad = table.quantity("joint_turn_limit", "rad", turn_range, "5 mrad");
  guides.head_turn_limit_rad = table.quantity("head_turn_limit", "rad", turn_range, "1 mrad");
  guides.head_gap_spare_m = table.quantity("head_gap_spare", "m", gap_range, "0.1 mm");
  guides.head_ahead_m = table.quantity("head_ahead", "m", head_range, "150 mm");
  if (guides.carriages_a_side == 1 && table.has("spacing"))
    table.refuse("spacing", "no spacing where there is one carriage a side",
                 "Take it out, or correct carriages_a_side.");
}

void read_limits(TableReader& table, Limits& limits) {
  limits.travel_m = table.quantity("travel", "m", travel_range, "1.4 m");
  limits.speed_m_per_s = table.quantity("speed", "m/s", speed_range, "1 m/s");
  limits.acceleration_m_per_s2 = table.quantity("acceleration", "m/s^2", acceleration_range, "5 m/s^2");
  limits.jerk_m_per_s3 = table.quantity("jerk", "m/s^3", jerk_range, "120 m/s^3");
  limits.settle_window_m = table.quantity("settle_window", "m", window_range, "10 um");
  limits.skew_goal_m = table.quantity("skew_goal", "m", skew_range, "50 um");
  limits.circular_goal_m = table.quantity("circular_goal", "m", skew_range, "20 um");
}

void read_controller(TableReader& table, Machine& machine) {
  machine.servo_period_s = table.quantity("servo_period", "s", period_range, "100 us");
  machine.delay_samples = table.number("delay_samples", delay_range, "1");
  const auto follows = table.yes_no("share_follows_carriage");
  machine.share_follows_carriage = follows.value_or(false);
  machine.takes_actual_position = table.yes_no("takes_actual_position");
  machine.share_is_constant = !follows.value_or(true);
}

void read_topology(TableReader& table, Machine& machine) {
  machine.feedback_on_both_sides = table.yes_no("feedback_on_both_sides").value_or(true);
  machine.common_shaft = table.yes_no("common_shaft").value_or(false);
  machine.third_rail = table.yes_no("third_rail").value_or(false);
}

void check_at_most(TableReader& table, std::string_view key, double value, const std::optional<double>& limit,
                   std::string_view limit_key, std::string_view si_unit) {
  if (limit && value > *limit)
    table.refuse(key, fmt::format("at most '{}' of [limits], {:g} {}", limit_key, *limit, si_unit),
                 "Correct the move or the limit.");
}

void read_move(TableReader& table, Machine& machine) {
  PlannedMove move;
  move.name = table.text("name", "long stroke").value_or("");
  move.distance_m = table.quantity("distance", "m", distance_range, "0.9 m").value_or(0);
  move.speed_m_per_s = table.quantity("speed", "m/s", speed_range, "1 m/s").value_or(0);
  move.acceleration_m_per_s2 = table.quantity("acceleration", "m/s^2", acceleration_range, "5 m/s^2").value_or(0);
  move.jerk_m_per_s3 = table.quantity("jerk", "m/s^3", jerk_range, "120 m/s^3").value_or(0);
  if (!table.has("name")) table.missing("name", "what the move is called", "\"long stroke\"");
  if (!table.has("distance")) table.missing("distance", "how far the move goes", "\"0.9 m\"");
  if (!table.has("speed")) table.missing("speed", "its speed", "\"1 m/s\"");
  if (!table.has("acceleration")) table.missing("acceleration", "its acceleration", "\"5 m/s^2\"");
  if (!table.has("jerk")) table.missing("jerk", "its jerk", "\"120 m/s^3\"");
  const Limits& limits = machine.limits;
  check_at_most(table, "distance", move.distance_m, limits.travel_m, "travel", "m");
  check_at_most(table, "speed", move.speed_m_per_s, limits.speed_m_per_s, "speed", "m/s");
  check_at_most(table, "acceleration", move.acceleration_m_per_s2, limits.acceleration_m_per_s2, "acceleration",
                "m/s^2");
  check_at_most(table, "jerk", move.jerk_m_per_s3, limits.jerk_m_per_s3, "jerk", "m/s^3");
  machine.moves.push_back(move);
  table.close();
}

}  // namespace

Machine read_machine(const std::string& text, const std::string& file_name) {
  const toml::table file = parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader root(file, "", file_name, troubles);
  root.require_format(machine_format);
  TableReader bridge = root.table_or_empty("bridge"), carriage = root.table_or_empty("carriage"),
              side = root.table_or_empty("side"), side_a = root.table_or_empty("side_a"),
              side_b = root.table_or_empty("side_b"), guides = root.table_or_empty("guides"),
              limits = root.table_or_empty("limits"), controller = root.table_or_empty("controller"),
              topology = root.table_or_empty("topology"), homing = root.table_or_empty("homing"),
              angle = root.table_or_empty("electrical_angle"), thermal = root.table_or_empty("thermal");
  Machine machine;
  read_top(root, machine);
  read_bridge(bridge, machine);
  read_carriage(carriage, machine);
  read_sides(side, side_a, side_b, machine);
  read_guides(guides, machine.guides);
  read_limits(limits, machine.limits);
  read_controller(controller, machine);
  read_topology(topology, machine);
  read_homing(homing, machine.homing);
  read_electrical_angle(angle, machine.electrical_angle);
  read_thermal(thermal, machine.thermal);
  for (TableReader& test : root.tables("force_test")) read_force_test(test, machine);
  for (TableReader& move : root.tables("move")) read_move(move, machine);
  const std::vector<TableReader*> readers = {&root,   &side,       &side_a,   &side_b, &bridge, &carriage, &guides,
                                             &limits, &controller, &topology, &homing, &angle,  &thermal};
  for (TableReader* reader : readers) reader->close({readers.begin(), readers.end()});
  throw_if_any(std::move(troubles));
  return machine;
}

}  // namespace evenbeam::machine
