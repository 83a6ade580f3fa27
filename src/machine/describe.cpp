#include "machine/describe.h"

#include <fmt/format.h>

#include <string_view>

#include "units/unit.h"

namespace evenbeam::machine {

std::string word(DriveKind kind) {
  switch (kind) {
    case DriveKind::screw:
      return "screw";
    case DriveKind::rack:
      return "rack and pinion";
    case DriveKind::belt:
      return "toothed belt";
    case DriveKind::linear_motor:
      return "linear motor";
    case DriveKind::unknown:
      break;
  }
  return {};
}

std::string word(FeedbackPlace place) {
  switch (place) {
    case FeedbackPlace::load:
      return "on the load";
    case FeedbackPlace::motor:
      return "on the motor";
    case FeedbackPlace::unknown:
      break;
  }
  return {};
}

std::string word(FeedbackKind kind) {
  switch (kind) {
    case FeedbackKind::incremental:
      return "incremental";
    case FeedbackKind::distance_coded:
      return "distance-coded marks";
    case FeedbackKind::absolute:
      return "absolute";
    case FeedbackKind::unknown:
      break;
  }
  return {};
}

std::string word(EndKind kind) {
  switch (kind) {
    case EndKind::bolted:
      return "bolted";
    case EndKind::pivoted:
      return "pivoted";
    case EndKind::flexure:
      return "on flexures";
    case EndKind::unknown:
      break;
  }
  return {};
}

namespace {

// Collects rows; an absent value becomes "unknown" and, in brackets, what is taken instead.
class Rows {
 public:
  explicit Rows(const Machine& machine) : machine_(machine) {}

  void text(std::string label, const std::string& value, std::string_view instead = {}) {
    const bool known = !value.empty();
    std::string shown = known ? value : instead.empty() ? "unknown" : fmt::format("unknown ({})", instead);
    rows_.push_back({std::move(label), std::move(shown), known});
  }
  void value(std::string label, const std::optional<double>& si, std::string_view si_unit,
             std::string_view instead = {}) {
    const std::string unit = units::shown_unit(si_unit, machine_.length_unit, machine_.force_unit);
    text(std::move(label), si ? units::print_quantity(*si, si_unit, unit) : "", instead);
  }
  // In a unit that suits the quantity, whatever the person's length unit is.
  void fixed(std::string label, const std::optional<double>& si, std::string_view si_unit, std::string_view unit) {
    text(std::move(label), si ? units::print_quantity(*si, si_unit, unit) : "");
  }
  void count(std::string label, const std::optional<int>& number) {
    text(std::move(label), number ? fmt::format("{}", *number) : "");
  }
  void yes_no(std::string label, bool yes) { text(std::move(label), yes ? "yes" : "no"); }
  std::vector<Described> take() { return std::move(rows_); }

 private:
  const Machine& machine_;
  std::vector<Described> rows_;
};

void add_bridge(Rows& rows, const Machine& machine) {
  rows.value("Distance between the rails", machine.span_m, "m");
  rows.value("Bridge mass, beam alone", machine.bridge_mass_kg, "kg");
  rows.value("Bridge: centre of mass across", machine.bridge_centre_y_m, "m", "taken in the middle");
  rows.value("Bridge: yaw inertia", machine.bridge_inertia_kg_m2, "kg*m^2", "taken as a uniform beam's");
  rows.value("End mass A", machine.end_mass_a_kg, "kg");
  rows.value("End mass B", machine.end_mass_b_kg, "kg");
}

void add_carriage(Rows& rows, const Machine& machine) {
  rows.value("Carriage mass, empty", machine.carriage_mass_kg, "kg");
  rows.value("Carriage: centre ahead of the bridge's middle line", machine.carriage_ahead_m, "m");
  constexpr std::string_view assumed = "80 % of the half span taken";
  rows.value("Carriage travel towards A", machine.carriage_min_y_m, "m", assumed);
  rows.value("Carriage travel towards B", machine.carriage_max_y_m, "m", assumed);
  rows.value("Carriage stands at y", machine.carriage_y_m, "m");
  rows.value("Payload, least", machine.payload_min_kg, "kg");
  rows.value("Payload, most", machine.payload_max_kg, "kg");
}

void add_side(Rows& rows, std::string_view name, const Side& side, const Brake& brake, const EnableTiming& enable) {
  const auto label = [name](std::string_view what) { return fmt::format("Side {}: {}", name, what); };
  rows.text(label("drive"), word(side.drive));
  if (side.drive != DriveKind::linear_motor) {
    rows.value(label("travel a turn"), side.lead_m, "m");
    if (!side.drive_mass_kg)
      rows.fixed(label("inertia at that turning axis"), side.drive_inertia_kg_m2, "kg*m^2", "kg*cm^2");
  }
  rows.value(label("drive mass referred to x"), reflected_mass_kg(side), "kg");
  rows.count(label("motors"), side.motors);
  rows.value(label("peak force at 100 % output"), side.peak_force_n, "N");
  rows.value(label("continuous force"), side.continuous_force_n, "N");
  rows.value(label("100 % output in ampere"), side.full_output_a, "A");
  rows.fixed(label("drive stiffness"), side.drive_stiffness_n_per_m, "N/m", "N/um");
  rows.text(label("feedback place"), word(side.feedback_place));
  rows.text(label("feedback kind"), word(side.feedback));
  rows.fixed(label("travel of a count"), side.count_m, "m", "um");
  rows.value(label("distance of marks"), side.mark_pitch_m, "m", "a single mark taken");
  rows.value(label("brake holds"), brake.hold_force_n, "N");
  rows.fixed(label("brake closes in"), brake.close_s, "s", "ms");
  rows.fixed(label("brake opens in"), brake.release_s, "s", "ms");
  rows.fixed(label("force there after enable"), enable.force_ready_s, "s", "ms");
  rows.fixed(label("brake commanded open after enable"), enable.brake_open_delay_s, "s", "ms");
  rows.fixed(label("force kept after disable"), enable.force_off_delay_s, "s", "ms");
}

void add_guides(Rows& rows, const Guides& guides) {
  rows.text("Bridge ends", word(guides.ends));
  rows.count("Guide carriages a side", guides.carriages_a_side);
  if (guides.carriages_a_side != 1) rows.value("Spacing of the outer guide carriages", guides.spacing_m, "m");
  rows.value("Static rating C0 of a guide carriage", guides.static_rating_n, "N");
  rows.value("Dynamic rating C of a guide carriage, 100 km", guides.dynamic_rating_n, "N");
  rows.value("Static safety wanted", guides.static_safety, "1");
  rows.value("Allowable skew, builder's statement", guides.stated_skew_limit_m, "m");
  rows.value("Allowable yaw moment, builder's statement", guides.stated_yaw_moment_limit_n_m, "N*m");
  rows.fixed("Yaw stiffness, builder's statement", guides.yaw_stiffness_n_m_per_rad, "N*m/rad", "kN*m/rad");
  rows.value("Opposed force a drive takes", guides.drive_force_limit_n, "N");
  rows.value("Yaw moment the joints take", guides.joint_moment_limit_n_m, "N*m");
  rows.fixed("Joints may turn by", guides.joint_turn_limit_rad, "rad", "mrad");
  rows.fixed("A reading head may turn by", guides.head_turn_limit_rad, "rad", "mrad");
  rows.value("Spare gap of a reading head", guides.head_gap_spare_m, "m");
  rows.value("Reading head ahead of the end's middle", guides.head_ahead_m, "m");
}

void add_thermal(Rows& rows, const Thermal& t) {
  const auto made_of = [&](const char* what, const std::optional<Expansion>& e) {
    rows.text(what, e ? fmt::format("{} ({:.3g} ppm/K)", e->name, 1e6 * e->per_k) : "");
  };
  made_of("Bridge is made of", t.bridge);
  made_of("Rails are bolted to", t.base);
  made_of("Scales are made of", t.scale);
  rows.fixed("Temperature changes by at most", t.change_k, "K", "K");
}

void add_use(Rows& rows, const Machine& machine) {
  rows.value("Travel along the rails", machine.limits.travel_m, "m");
  rows.value("Speed limit", machine.limits.speed_m_per_s, "m/s");
  rows.value("Acceleration limit", machine.limits.acceleration_m_per_s2, "m/s^2");
  rows.value("Jerk limit", machine.limits.jerk_m_per_s3, "m/s^3");
  rows.value("Settled within plus or minus", machine.limits.settle_window_m, "m");
  rows.value("Largest skew the work takes", machine.limits.skew_goal_m, "m");
  rows.value("Largest circular deviation the work takes", machine.limits.circular_goal_m, "m");
  rows.fixed("Servo period", machine.servo_period_s, "s", "us");
  rows.value("Computing delay in servo periods", machine.delay_samples, "1");
  rows.text("At enable the reference is", !machine.takes_actual_position   ? ""
                                          : *machine.takes_actual_position ? "the actual position"
                                                                           : "that of before");
  rows.yes_no("Force share can follow the carriage", machine.share_follows_carriage);
  rows.yes_no("Feedback on both sides", machine.feedback_on_both_sides);
  rows.yes_no("Common shaft", machine.common_shaft);
  rows.yes_no("Third rail", machine.third_rail);
  rows.text("Attitude after homing", machine.home_attitude.value_or(""), "not decided");
  rows.text("How the axis lies", machine.axis_tilt);
}

}  // namespace

std::vector<Described> describe(const Machine& machine) {
  Rows rows(machine);
  rows.text("Machine", machine.name);
  add_bridge(rows, machine);
  add_carriage(rows, machine);
  add_side(rows, "A", machine.a, machine.brake_a, machine.enable_a);
  add_side(rows, "B", machine.b, machine.brake_b, machine.enable_b);
  add_guides(rows, machine.guides);
  add_use(rows, machine);
  add_thermal(rows, machine.thermal);
  for (const PlannedMove& move : machine.moves) {
    const auto shown = [&](double si, std::string_view unit) {
      return units::print_quantity(si, unit, units::shown_unit(unit, machine.length_unit, machine.force_unit));
    };
    rows.text(fmt::format("Move '{}'", move.name),
              fmt::format("{}, {}, {}, {}", shown(move.distance_m, "m"), shown(move.speed_m_per_s, "m/s"),
                          shown(move.acceleration_m_per_s2, "m/s^2"), shown(move.jerk_m_per_s3, "m/s^3")));
  }
  return rows.take();
}

}  // namespace evenbeam::machine
