#include "sheets.h"

#include <array>

namespace evenbeam::checks {
namespace {

// Force 15 ms after enable, brakes open 58 ms after it, off 100 ms after disable, brakes shut after 40 ms: never
// free. B's brake is commanded open at 5 ms and free 8 ms later, so that B is free for 2 ms.
constexpr const char* kBrakeFirst =
    "[side_a]\nforce_ready_time = \"15 ms\"\nbrake_open_delay = \"50 ms\"\nbrake_release_time = \"8 ms\"\n"
    "force_off_delay = \"100 ms\"\nbrake_close_time = \"40 ms\"\n"
    "[side_b]\nforce_ready_time = \"15 ms\"\nbrake_open_delay = \"5 ms\"\nbrake_release_time = \"8 ms\"\n"
    "force_off_delay = \"100 ms\"\nbrake_close_time = \"40 ms\"\n";
// B's force is off 10 ms after disable and its brake holds only after 60 ms.
constexpr const char* kForceOffFirst =
    "[side_a]\nforce_ready_time = \"15 ms\"\nbrake_open_delay = \"50 ms\"\nbrake_release_time = \"8 ms\"\n"
    "force_off_delay = \"100 ms\"\nbrake_close_time = \"40 ms\"\n"
    "[side_b]\nforce_ready_time = \"15 ms\"\nbrake_open_delay = \"50 ms\"\nbrake_release_time = \"8 ms\"\n"
    "force_off_delay = \"10 ms\"\nbrake_close_time = \"60 ms\"\n";
constexpr const char* kPitch = "[side_a]\nmark_pitch = \"20 mm\"\n[side_b]\nmark_pitch = \"20 mm\"\n";
constexpr const char* kSlips = "[side_b]\nmark_off_every_second = \"20 mm\"\n";

// A sheet that is begun: without one nothing is reckoned.
constexpr const char* kBegun = "format = \"evenbeam.ready/1\"\n[check.lock_out]\nseen = \"yes\"\n";

// B's switch is met within 1.5 mm before its mark to 0.5 mm behind it: from some starts it arms the next mark.
constexpr const char* kSwitchAtMark =
    "[side_a]\nmark_pitch = \"20 mm\"\n[side_b]\nmark_pitch = \"20 mm\"\n[homing]\n"
    "reference = \"switch_and_mark\"\nswitch_a = [\"-12 mm\", \"-8 mm\"]\nswitch_b = [\"-1.5 mm\", \"0.5 mm\"]\n"
    "start = [\"-100 mm\", \"-30 mm\"]\nstart_skew = \"1 mm\"\n";
// Motors that bear little for ever, and a skew commanded that guides and friction answer with more.
constexpr const char* kSmallMotors = "[side_a]\ncontinuous_force = \"20 N\"\n[side_b]\ncontinuous_force = \"20 N\"\n";
constexpr const char* kSkewHeld = "[loops]\nskew_reference = \"0.4 mm\"\n";
// Both diagonals of a rectangle of 0.4 by 0.5 m, 640.312 mm, 0.2 mm apart each way: about 1 mrad out of square.
constexpr const char* kDiagonalsPart =
    "format = \"evenbeam.squareness/1\"\nwanted = \"40 urad\"\n[[diagonals]]\nx = \"0 mm\"\nlength_x = \"400 mm\"\n"
    "length_y = \"500 mm\"\nrising = [\"640.52 mm\", \"640.51 mm\"]\nfalling = [\"640.11 mm\", \"640.12 mm\"]\n"
    "reading_error = \"10 um\"\npoint_error = \"10 um\"\n";

constexpr std::array kSheets{
    Sheet{20, "brake open before force, one side", kBrakeFirst, kBegun, "", "ready", "enable_order",
          "ready_enable_order"},
    Sheet{22, "force off before brake, one side", kForceOffFirst, kBegun, "", "ready", "disable_order",
          "ready_disable_order"},
    Sheet{3, "mark next to its switch's edge", kPitch, "", kSlips, "marks", "mark_near_switch_edge",
          "marks_mark_near_switch_edge"},
    Sheet{2, "mark a pitch off, pitch stated", kPitch, "", kSlips, "marks", "run_", "marks_run_"},
    Sheet{1, "switch that arms the wrong mark from some starts", kSwitchAtMark, "", "", "marks", "search_can_fail",
          "elsewhere_marks_search_can_fail"},
    Sheet{13, "overload at rest", kSmallMotors, "", kSkewHeld, "causes", "overload_at_rest_", "overload_at_rest_"},
    Sheet{34, "out of square after the offset", "", "", "", "square", "out_of_square",
          "elsewhere_square_out_of_square", kDiagonalsPart},
};

}  // namespace

std::span<const Sheet> sheets() { return kSheets; }

}  // namespace evenbeam::checks
