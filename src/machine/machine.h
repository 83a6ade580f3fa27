#pragma once
// The description of one dual-drive gantry: what its papers, its builder and its users say. Constant while running.
// Frame and signs: docs/notation.md. x along the rails, y from side A (at -span/2) to side B (at +span/2), z up.
// SI throughout. std::nullopt means "unknown", a legal value of everything that is not strictly needed.
#include <optional>
#include <string>
#include <vector>

#include "machine/enabling.h"
#include "machine/force_test.h"
#include "machine/homing.h"
#include "machine/thermal.h"

namespace evenbeam::machine {

enum class DriveKind { unknown, screw, rack, belt, linear_motor };
enum class FeedbackPlace { unknown, load, motor };
enum class FeedbackKind { unknown, incremental, distance_coded, absolute };
enum class EndKind { unknown, bolted, pivoted, flexure };

// One side: motor, transmission, feedback, brake.
struct Side {
  DriveKind drive = DriveKind::unknown;
  std::optional<double> lead_m;               // screw: travel a turn; rack and belt: travel a turn of the pinion; > 0
  std::optional<double> drive_inertia_kg_m2;  // motor, coupling, screw or pinion together, at that turning axis; >= 0
  std::optional<double> drive_mass_kg;        // the same referred to x; derived from inertia and lead where absent
  std::optional<double> peak_force_n;         // at 100 % output, nameplate; > 0
  std::optional<double> continuous_force_n;   // > 0, <= peak
  std::optional<double> full_output_a;        // what 100 % output means where outputs are in ampere; > 0
  std::optional<double> drive_stiffness_n_per_m;  // coupling, screw, belt: motor to bridge end; > 0
  FeedbackPlace feedback_place = FeedbackPlace::unknown;
  FeedbackKind feedback = FeedbackKind::unknown;
  std::optional<double> count_m;       // travel a count; > 0
  std::optional<double> mark_pitch_m;  // distance between periodic or coded marks; > 0; unknown = single mark
  int motors = 1;                      // 1 or 2
};

struct Brake {
  std::optional<double> hold_force_n;  // static, at the side, referred to x
  std::optional<double> close_s, release_s;
};

// Guide carriages of one rail and how the bridge is held on them.
struct Guides {
  EndKind ends = EndKind::unknown;
  std::optional<int> carriages_a_side;                // >= 1
  std::optional<double> spacing_m;                    // between the outer two of one side, along x
  std::optional<double> static_rating_n;              // C0 of one carriage
  std::optional<double> dynamic_rating_n;             // C of one carriage, 100 km basis
  std::optional<double> static_safety;                // wanted f_s = C0 / P0
  std::optional<double> stated_skew_limit_m;          // allowable |skew| that the builder states
  std::optional<double> stated_yaw_moment_limit_n_m;  // both ends together, about z, that the builder states
  std::optional<double> yaw_stiffness_n_m_per_rad;    // K_th where the builder states it
  // What else takes the skew, each by its maker; > 0.
  std::optional<double>
      drive_force_limit_n;  // opposed force of one side along x: drive, coupling, screw, rack or belt
  std::optional<double> joint_moment_limit_n_m;  // mountings and joints, both ends together, about z
  std::optional<double> joint_turn_limit_rad;    // how far pivots or flexures may turn
  std::optional<double> head_turn_limit_rad;     // how far a reading head may turn against its scale
  std::optional<double> head_gap_spare_m;        // how far its gap may change, either way
  std::optional<double> head_ahead_m;            // distance along x from the middle of the end to its head
};

struct Limits {
  std::optional<double> travel_m;  // along the rails
  std::optional<double> speed_m_per_s, acceleration_m_per_s2, jerk_m_per_s3;
  std::optional<double> settle_window_m;  // half window; where absent each use states its own
  std::optional<double> skew_goal_m;      // largest dynamic skew the process takes
  std::optional<double> circular_goal_m;  // largest circular deviation G of gantry and cross axis it takes
};

// What a motion asks of the machine in its own work, used to plan and to judge test moves.
struct PlannedMove {
  std::string name;
  double distance_m = 0, speed_m_per_s = 0, acceleration_m_per_s2 = 0, jerk_m_per_s3 = 0;
};

struct Machine {
  std::string name;
  double span_m = 0;                           // L, between the rails; > 0; strictly needed
  std::optional<double> bridge_mass_kg;        // m_b, without ends, carriage, motors
  std::optional<double> bridge_centre_y_m;     // y_b; assumed 0 where absent, and said
  std::optional<double> bridge_inertia_kg_m2;  // J_b about mid-span; uniform beam m_b L^2/12 where absent, and said
  std::optional<double> end_mass_a_kg, end_mass_b_kg;
  std::optional<double> carriage_mass_kg;  // without payload
  std::optional<double> carriage_ahead_m;  // h: its centre ahead of the mid-line, +x
  std::optional<double> carriage_min_y_m, carriage_max_y_m;
  std::optional<double> carriage_y_m;  // where it stands unless a recording says otherwise
  double payload_min_kg = 0;
  std::optional<double> payload_max_kg;
  Side a, b;
  Brake brake_a, brake_b;
  EnableTiming enable_a, enable_b;
  std::optional<bool> takes_actual_position;  // at enable; false: the reference of before is kept
  Guides guides;
  Limits limits;
  std::vector<PlannedMove> moves;
  std::optional<double> servo_period_s;
  std::optional<double> delay_samples;  // computing delay of the loop, servo periods
  bool share_follows_carriage = false;  // the controller can change the force share with carriage position
  bool share_is_constant = false;       // stated that it can't; with neither stated a list is proposed
  std::string axis_tilt;                // free text for people
  // Topology as data. What is not supported is refused with a sentence by the station concerned.
  bool feedback_on_both_sides = true;
  bool common_shaft = false;
  bool third_rail = false;
  Homing homing;
  ElectricalAngle electrical_angle;
  Thermal thermal;
  std::vector<ForceTest> force_tests;
  // What the person wants set against the program's own choice.
  std::optional<std::string> home_attitude;  // "free" or "square", a recorded decision
  // User units, symbols of units/unit.h.
  std::string length_unit = "mm", force_unit = "N";
};

// drive_mass_kg, else drive_inertia_kg_m2 (2 pi / lead)^2; nullopt where neither is known.
std::optional<double> reflected_mass_kg(const Side& side);
// End of the carriage's travel, else 80 % of the half span to each side (assumed; common practice, no source).
struct CarriageRange {
  double min_y_m = 0, max_y_m = 0;
  bool assumed = true;
};
CarriageRange carriage_range(const Machine& machine);
// Moving mass by the papers with payload; nullopt where a part is unknown. M of docs/equations.md.
std::optional<double> nameplate_mass_kg(const Machine& machine, double payload_kg);

}  // namespace evenbeam::machine
