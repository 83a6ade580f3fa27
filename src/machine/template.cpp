#include "machine/template.h"

namespace evenbeam::machine {
namespace {

constexpr const char* beginning =
    R"(# What is known of the machine: its papers, its drawings, what was measured with a tape.
# Lines with # in front of a key are examples: take the # away and write your value. What you do not know, leave out;
# the program says where it matters and how to find out. Nothing behind a # is taken as true.
# To begin: correct span, then open the lines of [side] down to count. These ten lines make a first capture useful.
# A value carries its unit, in quotes: "2.2 m", "20 mm", "2600 N", "1.52e-3 kg*m^2". The decimal sign is a point.
# Directions: x runs along the rails. y runs across them, from side A to side B, and is 0 in the middle of the bridge.

format = "evenbeam.machine/1"
name = "New gantry"
span = "2.2 m"                  # TO CORRECT: between the two rails, centre to centre. The one value that must be there.
#length_unit = "mm"             # what lengths are shown in: mm, um, in
#force_unit = "N"               # what forces are shown in: N, kN
#axis_tilt = "rails level"      # a note for people: level, on a slope, hanging
#home_attitude = "free"         # how the bridge shall stand after homing: "free" (guides without stress) or "square"

[side]                          # both sides alike; where they differ, say so in [side_a] and [side_b] below
#drive = "screw"                # screw, rack, belt or linear_motor
#lead = "20 mm"                 # travel of one turn of the screw; of the pinion or pulley with rack or belt
#peak_force = "2600 N"          # at 100 % output, from the papers; a motor's torque T gives 2 pi T / lead
#feedback_on = "load"           # where the position is measured: "load" (a scale at the bridge) or "motor"
#count = "0.5 um"               # travel of one count
)";

constexpr const char* side = R"(#pitch_diameter = "79.58 mm"    # instead of lead: of the pinion or pulley
#drive_inertia = "1.52e-3 kg*m^2" # motor, coupling and screw or pinion together, at the turning axis that has the lead
#drive_mass = "9 kg"            # instead of drive_inertia: what moves with the motor, referred to x
#continuous_force = "900 N"     # at most peak_force
#full_output = "9 A"            # what 100 % output is, where the controller shows outputs in ampere
#drive_stiffness = "60 N/um"    # coupling, screw or belt, from the motor to the bridge end
#motors = 1                     # motors on this side: 1 or 2
#counts_per_metre = 2000000     # instead of count
#counts_per_turn = 8192         # instead of count; needs the lead
#feedback = "incremental"       # incremental, distance_coded or absolute
#mark_pitch = "20 mm"           # distance of reference marks, where there is more than one
#brake_hold_force = "500 N"     # static, along x
#brake_close_time = "40 ms"     # from the command until it holds
#brake_release_time = "60 ms"   # from the command until it is free
#force_ready_time = "15 ms"     # from enable until the drive holds
#brake_open_delay = "50 ms"     # from enable until the brake is commanded open
#force_off_delay = "100 ms"     # from disable, when the brake is commanded shut, until the force goes

#[side_a]                       # only what is different on side A
#peak_force = "2600 N"

#[side_b]                       # only what is different on side B
#peak_force = "2600 N"
)";

constexpr const char* moving_parts = R"(
[bridge]
#mass = "185 kg"                # the beam alone: without ends, carriage and motors
#centre_y = "0 m"               # its centre of mass across; minus is towards side A
#yaw_inertia = "75 kg*m^2"      # about the vertical axis through the middle of the bridge
#end_mass = "24 kg"             # each end; or end_mass_a and end_mass_b
#end_mass_a = "24 kg"
#end_mass_b = "24 kg"

[carriage]                      # what travels on the bridge
#mass = "62 kg"                 # without payload
#ahead = "0 mm"                 # its centre of mass in front of (+x) the middle line of the bridge
#min_y = "-0.85 m"              # end of its travel nearest to side A
#max_y = "0.85 m"               # end of its travel nearest to side B
#stands_at_y = "0.4 m"          # where it stands in the recordings, unless a recording says otherwise
#payload_min = "0 kg"
#payload_max = "25 kg"
)";

constexpr const char* rest = R"(
[guides]
#ends = "bolted"                # how the bridge is held at its ends: bolted, pivoted or flexure
#carriages_a_side = 2           # guide carriages of one rail under the bridge
#spacing = "260 mm"             # between the outer two of one side
#static_rating = "51 kN"        # C0 of one carriage
#dynamic_rating = "31 kN"       # C of one carriage for 100 km
#static_safety = 2              # wanted C0 over the load
#stated_skew_limit = "1.5 mm"   # the builder's allowable difference of the two sides
#stated_yaw_moment_limit = "800 N*m" # the builder's allowable moment about the vertical axis
#yaw_stiffness = "400 kN*m/rad" # of guides and mountings, where the builder states it
#drive_force_limit = "4 kN"     # opposed force that drive, coupling, screw, rack or belt of one side takes
#joint_moment_limit = "2 kN*m"  # of mountings and joints about the vertical axis, both ends together
#joint_turn_limit = "5 mrad"    # how far pivots or flexures may turn
#head_turn_limit = "1 mrad"     # how far a reading head may turn against its scale
#head_gap_spare = "0.1 mm"      # how far its gap may change, either way
#head_ahead = "150 mm"          # along x from the middle of the bridge end to its reading head

[limits]
#travel = "1.4 m"               # along the rails
#speed = "1 m/s"
#acceleration = "5 m/s^2"
#jerk = "120 m/s^3"
#settle_window = "10 um"        # half of it: settled is within plus or minus this
#skew_goal = "50 um"            # the largest skew in motion that the work takes
#circular_goal = "20 um"        # the largest circular deviation G (ISO 230-4) of gantry and cross axis that it takes

[controller]
#servo_period = "100 us"        # of the position loop
#delay_samples = 1              # computing delay, in servo periods
#share_follows_carriage = false # false: one share for all places; true: it can follow the carriage
#takes_actual_position = true   # at enable; false: it keeps the commanded position of before

[topology]                      # what is built otherwise than one motor and one feedback on each of two rails
#feedback_on_both_sides = true
#common_shaft = false           # both sides driven through one shaft
#third_rail = false

[homing]                        # the reference search; places count along x
#reference = "single_mark"      # periodic, distance_coded, absolute, switch_only, switch_and_mark or hard_stop
#moves = "both_together"        # both_together: one command for both sides; each_alone: each stops at its own mark
#direction = "+x"
#leading_side = "A"
#search_speed = "20 mm/s"
#acceleration = "0.5 m/s^2"     # up and down
#latch_delay = "1 ms"           # the longest
#mark_b_ahead = "1.2 mm"        # B's mark ahead (+x) of A's with the guides free, by the drawing
#mark_doubt = "0.5 mm"          # plus or minus
#start = ["-400 mm", "-20 mm"] # where the bridge's middle may stand before a search, from A's mark
#start_skew = "1 mm"            # plus or minus, off the attitude in which the guides are free
#hold_error = "20 um"           # how far the skew strays on the way
#travel = ["-600 mm", "800 mm"] # of each bridge end, from A's mark
#switch_a = ["-8 mm", "-6 mm"] # where A's switch is met, hysteresis included, from A's own mark
#switch_b = ["-8 mm", "-6 mm"] # the same of B, from B's own mark
#switch_shared = false          # true: the leading side's switch arms both
#back_off_a = ["-52 mm", "-50 mm"] # a switch to run back to before the search, from A's own mark
#back_off_b = ["-52 mm", "-50 mm"]
#code_step = "20 um"            # distance-coded: one signal period
#flag_width = "6 mm"
#stop_force = "80 N"            # hard_stop: force of one side, what the guides take, how far it gives
#stop_force_limit = "200 N"
#stop_give = "0.1 mm"
#kept_zero = "A"                # whose zero stays at its mark when the offsets square or free the bridge: A, B, middle
#axis_zero = "12 mm"            # where the axis shall read 0, ahead (+x) of the zero that is kept
#squareness_wanted = "50 urad"  # the largest out-of-square that the work takes
#thermal_skew = "20 um"         # change of the skew between cold and warm, plus or minus

[electrical_angle]              # read at the mark after several power-ups, where drives find it roughly
#read_a = ["31.2 deg", "29.8 deg", "30.9 deg"]
#read_b = ["12.0 deg", "10.8 deg", "11.9 deg"]
#true_a = "30 deg"              # where it is known
#true_b = "11 deg"
#loss_limit = 0.02              # the largest part of the force that may be lost

[thermal]                       # what warms: steel, cast iron, aluminium, granite, ... (docs/formats.md)
#bridge = "aluminium"           # or its coefficient: "23.1 ppm/K"
#base = "steel"                 # what the rails are bolted to
#scale = "steel"
#change = "12 K"                # the largest change from setting up to work
#uneven = "3 K"                 # the largest difference between the sides, or between bridge and base
#mark_from_fixed = "0.7 m"      # from where the scales are fixed to the marks
#one_side_floats = false        # true: the carriages of one rail give way across

#[[force_test]]                 # a known force at a creeping side: turns mass over force constant into both
#side = "A"                     # A, B or both (at the middle of the bridge)
#force = "400 N"
#weight = "40 kg"               # instead of force: over a pulley
#uncertainty = "1 %"            # of the force, plus or minus
#instrument = "load cell 1 kN"
#output_before = "0.2 %"        # without it, middle of the outputs while creeping both ways; in %, N or A
#output = "13.0 %"              # with it, creeping along the pull; absent: planned, and its gain is told
#output_back = "15.2 %"         # with it, creeping against the pull: friction then drops out

#[[move]]                       # a move of the machine's own work; one heading for each
#name = "long stroke"
#distance = "0.9 m"
#speed = "1 m/s"
#acceleration = "5 m/s^2"
#jerk = "120 m/s^3"
)";

}  // namespace

std::string machine_template() { return std::string(beginning) + side + moving_parts + rest; }

bool is_untouched_template(const std::string& text) {
  std::string plain;
  for (const char c : text)
    if (c != '\r') plain += c;
  return plain == machine_template();
}

}  // namespace evenbeam::machine
