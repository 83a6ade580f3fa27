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

constexpr std::array kSheets{
    Sheet{20, "brake open before force, one side", kBrakeFirst, kBegun, "", "ready", "enable_order"},
    Sheet{22, "force off before brake, one side", kForceOffFirst, kBegun, "", "ready", "disable_order"},
    Sheet{3, "mark next to its switch's edge", kPitch, "", kSlips, "marks", "mark_near_switch_edge"},
    Sheet{2, "mark a pitch off, pitch stated", kPitch, "", kSlips, "marks", "run_"},
};

}  // namespace

std::span<const Sheet> sheets() { return kSheets; }

}  // namespace evenbeam::checks
