#include "bank.h"

#include <fmt/format.h>

#include <cmath>

namespace evenbeam::checks {
namespace {

// From low to high in even steps of the logarithm.
double between(double low, double high, double size) { return low * std::pow(high / low, size); }

std::string one(const char* heading, const char* key, double value, const char* unit) {
  return *unit == '\0' ? fmt::format("[{}]\n{} = {:.9g}\n", heading, key, value)
                       : fmt::format("[{}]\n{} = \"{:.9g} {}\"\n", heading, key, value, unit);
}
std::string yes(const char* heading, const char* key) { return fmt::format("[{}]\n{} = true\n", heading, key); }
std::string in(const char* runs, const std::string& rest) { return fmt::format("runs = [{}]\n", runs) + rest; }

// Skew that makes `part` of the mean friction at the yaw spring.
double strain_m(const Scale& s, double part) { return part * s.coulomb_n / s.spring_n_per_m; }

const std::vector<Defect>& all() {
  using S = Scale;
  static const std::vector<Defect> list{
      {2,
       "mark a pitch off in every second search",
       [](const S&, double z) { return one("side_b", "mark_off_every_second", between(2e-3, 20e-3, z), "m"); },
       {"marks_run_"}},
      {4,
       "one side searches, the other is held",
       [](const S&, double z) { return in("\"search\"", one("side_b", "reference_scale", -between(0.1, 1, z), "")); },
       {"commands_apart_", "marks_"}},
      {6,
       "every second search fails",
       [](const S&, double) { return yes("side_b", "mark_missing_every_second"); },
       {"marks_run_", "marks_marks_difference", "marks_"}},
      {8,
       "mark never seen",
       [](const S&, double) { return yes("side_b", "mark_missing"); },
       {"marks_run_", "marks_marks_difference", "marks_"}},
      {11,
       "outputs of the sides crossed",
       [](const S&, double) { return in("\"push\"", yes("loops", "outputs_crossed")); },
       {"nudge_crossed", "nudge_sign_"},
       true},
      {11,
       "output of one side reversed",
       [](const S&, double) { return in("\"push\"", yes("side_b", "output_reversed")); },
       {"nudge_sign_", "nudge_crossed", "nudge_strength"},
       true},
      {12,
       "fight at rest from a skew commanded",
       [](const S& s, double z) { return one("loops", "skew_reference", strain_m(s, between(2, 20, z)), "m"); },
       {"commands_apart_", "fight_at_standstill"}},
      {14,
       "follower on the leader's position",
       [](const S&, double) { return yes("loops", "follower"); },
       {"b_follows_a"}},
      {15,
       "one side's command late",
       [](const S&, double z) { return one("side_b", "reference_late", between(5e-4, 2e-2, z), "s"); },
       {"commands_apart_"}},
      {16,
       "following-error trips unequal",
       [](const S& s, double z) { return one("side_b", "following_trip", between(20, 2, z) * 20 * s.count_m, "m"); },
       {"tripped_in_motion_", "one_side_off_b_"}},
      {21,
       "brake of one side drags",
       [](const S& s, double z) { return one("side_b", "brake_drag", between(0.3, 3, z) * s.coulomb_n, "N"); },
       {"unequal_friction"}},
      {23,
       "rails run apart",
       [](const S& s, double z) {
         return one("bridge", "stress_free_slope", strain_m(s, between(0.5, 10, z)) / s.way_m, "");
       },
       {"fight_grows_along_x"}},
      {24,
       "tight spot on one rail",
       [](const S& s, double z) {
         return fmt::format(
             "[side_a]\nfriction_spot = \"{:.9g} N\"\nfriction_spot_at = \"{:.9g} m\"\n"
             "friction_spot_width = \"{:.9g} m\"\n",
             between(0.5, 5, z) * s.coulomb_n, 0.5 * s.way_m, 0.04 * s.way_m);
       },
       {"tight_spot_a"}},
      {25,
       "scale or pitch of one side",
       [](const S& s, double z) {
         return one("side_b", "scale_error", strain_m(s, between(0.5, 10, z)) / s.way_m, "");
       },
       {"fight_grows_along_x"}},
      {27,
       "one drive softer",
       [](const S&, double z) { return one("side_b", "drive_stiffness_factor", between(0.8, 0.2, z), ""); },
       {"unequal_drive_stiffness"}},
      {28,
       "play in the mountings",
       [](const S& s, double z) { return one("bridge", "yaw_play", strain_m(s, between(0.5, 5, z)), "m"); },
       {"play_"}},
      {29,
       "stress-free skew drifts with heat",
       [](const S& s, double z) {
         return fmt::format("[captures]\ntime_between = \"600 s\"\nstress_free_drift = \"{:.9g} m/s\"\n",
                            strain_m(s, between(0.2, 2, z)) / 600);
       },
       {"marks_marks_drift"}},
      {30,
       "cable pulls harder along x",
       [](const S& s, double z) {
         return one("side_a", "cable_rate", 2 * between(0.5, 5, z) * s.coulomb_n / s.way_m, "N/m");
       },
       {"pull_grows_along_x_a", "fight_grows_along_x"}},
      {30,
       "cables pull the bridge",
       [](const S& s, double z) {
         const double pull = between(0.6, 3, z) * s.coulomb_n;
         return one("side_a", "cable", pull, "N") + one("side_b", "cable", pull, "N");
       },
       {"pull_on_the_bridge"}},
      {32,
       "payload changed unsaid",
       [](const S& s, double z) {
         return one("bridge", "payload_added", between(0.02, 0.3, z) * s.peak_force_n / 10, "kg");
       },
       {"mass_not_as_stated", "share_slope_not_as_stated"}},
      {36,
       "skew loop's gain too high",
       [](const S&, double z) { return one("loops", "skew_gain_factor", between(3, 60, z), ""); },
       {"skew_gain_not_as_stated", "hunts_at_rest_"}},
      {37,
       "clocks drift apart",
       [](const S&, double z) { return one("side_b", "sampled_late_growth", between(1e-6, 1e-4, z), ""); },
       {"clocks_drift_", "unequal_sampling", "drag_or_late_sampling_"}},
      {38,
       "counts lost in a move",
       [](const S& s, double z) {
         return "runs = [\"move\"]\nfrom = \"0.4 s\"\n" +
                one("side_b", "feedback_slip", between(10, 1000, z) * s.count_m, "m");
       },
       {"position_jumps_b_"}},
      {39,
       "a side stops in its dead band",
       [](const S& s, double z) { return one("side_b", "deadband", strain_m(s, between(0.2, 4, z)), "m"); },
       {"dead_band_b_", "fight_at_standstill"}},
      {40,
       "force at its limit",
       [](const S& s, double z) { return one("side_a", "peak_force", between(0.5, 0.1, z) * s.peak_force_n, "N"); },
       {"force_clipped_a_", "force_at_limit_a_"}},
      {42,
       "flag or mark loose",
       [](const S& s, double z) {
         return one("side_b", "mark_scatter", std::max(20 * s.count_m, 20e-6) * between(1, 30, z), "m");
       },
       {"marks_run_", "marks_marks_difference", "marks_"}},
      {7,
       "a stop reaches the other side late",
       [](const S& s, double z) {
         return "runs = [\"move\"]\n" + one("side_b", "following_trip", 10 * s.count_m, "m") +
                one("loops", "partner_late", between(5e-3, 0.3, z), "s");
       },
       {"one_side_off_"}},
      {26,
       "counts a metre of one side",
       [](const S&, double z) { return one("side_a", "scale_error", between(50e-6, 5e-3, z), ""); },
       {"fight_grows_along_x"}},
      {33,
       "skew changes with each switch-on",
       [](const S&, double z) { return one("captures", "rack_factor", between(1.5, 10, z), ""); },
       {},
       false,
       "switch_ons_apart"},
      {41,
       "springs back at servo-off",
       [](const S& s, double z) {
         return in("\"enabling\"", one("loops", "skew_reference", strain_m(s, between(2, 20, z)), "m"));
       },
       {"springs_back_", "ready_skew_released"}},
      {-1,
       "ripple of one motor",
       [](const S& s, double z) {
         return one("side_a", "ripple", between(0.2, 4, z) * s.coulomb_n, "N") + "ripple_pitch = \"24 mm\"\n";
       },
       {"law_not_followed", "fight_unexplained"}},
      {0,
       "one side weaker a newton",
       [](const S&, double z) { return one("side_b", "force_factor", between(0.97, 0.7, z), ""); },
       {"unequal_force_per_output", "nudge_strength"}},
      {0,
       "one side drags with speed",
       [](const S& s, double z) {
         return one("side_b", "viscous_added", between(0.3, 3, z) * s.coulomb_n / s.speed_m_per_s, "N*s/m");
       },
       {"unequal_viscous_friction", "drag_or_late_sampling_"}},
      {0,
       "one side sampled late",
       [](const S&, double z) { return one("side_b", "sampled_late", between(1e-4, 5e-3, z), "s"); },
       {"unequal_sampling", "drag_or_late_sampling_"}},
  };
  return list;
}

}  // namespace

std::span<const Defect> bank() { return all(); }

}  // namespace evenbeam::checks
