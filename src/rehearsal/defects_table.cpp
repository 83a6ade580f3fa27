// The table of hooks: one row each. Ranges are wide: a value outside has a wrong unit or a misplaced point.
#include "rehearsal/defects.h"

namespace evenbeam::rehearsal {
namespace {

using T = Target;

dynamics::PlantSide& side(T& t, bool b) { return b ? t.gantry.plant.b : t.gantry.plant.a; }
dynamics::SideEffects& effects(T& t, bool b) { return b ? t.gantry.effects.b : t.gantry.effects.a; }
simulation::Broken& now(T& t, bool b) { return b ? t.b : t.a; }
SideCapture& capture(T& t, bool b) { return b ? t.capture_b : t.capture_a; }

constexpr Quantity table[] = {
    // Friction and brakes
    {"side", "friction_factor", "1", 0, 100, "2.0",
     [](T& t, bool b, double v) { side(t, b).coulomb_n *= v, effects(t, b).stribeck_n *= v; }},
    {"side", "friction_added", "N", 0, 1e6, "60 N", [](T& t, bool b, double v) { side(t, b).coulomb_n += v; }},
    {"side", "viscous_added", "N*s/m", 0, 1e6, "200 N*s/m",
     [](T& t, bool b, double v) { side(t, b).viscous_n_s_per_m += v; }},
    {"side", "breakaway_added", "N", 0, 1e6, "30 N", [](T& t, bool b, double v) { effects(t, b).stribeck_n += v; }},
    {"side", "breakaway_speed", "m/s", 1e-5, 1, "4 mm/s",
     [](T& t, bool b, double v) { effects(t, b).stribeck_speed_m_per_s = v; }},
    {"side", "friction_spot", "N", 0, 1e6, "80 N", [](T& t, bool b, double v) { effects(t, b).spot_n = v; }},
    {"side", "friction_spot_at", "m", -500, 500, "40 mm",
     [](T& t, bool b, double v) { effects(t, b).spot_at_m = v; }},
    {"side", "friction_spot_width", "m", 1e-5, 10, "8 mm",
     [](T& t, bool b, double v) { effects(t, b).spot_width_m = v; }},
    {"side", "brake_force", "N", 0, 1e6, "800 N", [](T& t, bool b, double v) { effects(t, b).brake_n = v; }},
    {"side", "brake_close_time", "s", 0, 5, "30 ms", [](T& t, bool b, double v) { effects(t, b).brake_close_s = v; }},
    {"side", "brake_release_time", "s", 0, 5, "60 ms",
     [](T& t, bool b, double v) { effects(t, b).brake_release_s = v; }},
    {"side", "brake_drag", "N", 0, 1e6, "40 N", [](T& t, bool b, double v) { effects(t, b).brake_drag_n = v; }},
    {"side", "brake_stuck_open", "yes", 0, 1, "true",
     [](T& t, bool b, double) { now(t, b).brake_stuck_open = true; }},
    {"side", "brake_stuck_closed", "yes", 0, 1, "true",
     [](T& t, bool b, double) { now(t, b).brake_stuck_closed = true; }},
    // Force
    {"side", "force_factor", "1", 0.01, 10, "0.94", [](T& t, bool b, double v) { side(t, b).force_scale *= v; }},
    {"side", "output_factor", "1", 0, 2, "0.0", [](T& t, bool b, double v) { now(t, b).output_factor *= v; }},
    {"side", "output_reversed", "yes", 0, 1, "true", [](T& t, bool b, double) { now(t, b).output_factor *= -1; }},
    {"side", "output_offset", "N", -1e6, 1e6, "15 N", [](T& t, bool b, double v) { now(t, b).output_added_n += v; }},
    {"side", "peak_force", "N", 1e-3, 1e6, "250 N", [](T& t, bool b, double v) { effects(t, b).peak_force_n = v; }},
    {"side", "ripple", "N", 0, 1e6, "12 N", [](T& t, bool b, double v) { effects(t, b).cogging_n = v; }},
    {"side", "ripple_pitch", "m", 1e-5, 10, "24 mm",
     [](T& t, bool b, double v) { effects(t, b).cogging_pitch_m = v; }},
    {"side", "ripple_phase", "rad", -7, 7, "90 deg",
     [](T& t, bool b, double v) { effects(t, b).cogging_phase_rad = v; }},
    {"side", "cable", "N", -1e6, 1e6, "25 N", [](T& t, bool b, double v) { effects(t, b).cable_n = v; }},
    {"side", "cable_rate", "N/m", -1e6, 1e6, "30 N/m",
     [](T& t, bool b, double v) { effects(t, b).cable_n_per_m = v; }},
    {"side", "pushed", "N", -1e6, 1e6, "100 N", [](T& t, bool b, double v) { now(t, b).force_added_n += v; }},
    // Drive and stops
    {"side", "drive_stiffness_factor", "1", 1e-4, 100, "0.7",
     [](T& t, bool b, double v) { side(t, b).drive_stiffness_n_per_m *= v; }},
    {"side", "drive_play", "m", 0, 0.1, "40 um", [](T& t, bool b, double v) { effects(t, b).drive_play_m = v; }},
    {"side", "stop_low", "m", -1e3, 1e3, "-5 mm", [](T& t, bool b, double v) { effects(t, b).stop_low_m = v; }},
    {"side", "stop_high", "m", -1e3, 1e3, "120 mm", [](T& t, bool b, double v) { effects(t, b).stop_high_m = v; }},
    {"side", "stop_stiffness", "N/m", 0, 1e12, "5 N/um",
     [](T& t, bool b, double v) { effects(t, b).stop_stiffness_n_per_m = v; }},
    {"side", "stop_damping", "N*s/m", 0, 1e9, "2000 N*s/m",
     [](T& t, bool b, double v) { effects(t, b).stop_damping_n_s_per_m = v; }},
    // Feedback
    {"side", "scale_error", "1", -0.4, 0.4, "200 ppm", [](T& t, bool b, double v) { effects(t, b).scale_error = v; }},
    {"side", "pitch_error", "m", 0, 0.1, "5 um", [](T& t, bool b, double v) { effects(t, b).pitch_error_m = v; }},
    {"side", "pitch_error_pitch", "m", 1e-6, 10, "16 mm",
     [](T& t, bool b, double v) { effects(t, b).pitch_error_pitch_m = v; }},
    {"side", "pitch_error_phase", "rad", -7, 7, "90 deg",
     [](T& t, bool b, double v) { effects(t, b).pitch_error_phase_rad = v; }},
    {"side", "count", "m", 1e-10, 1e-3, "5 um", [](T& t, bool b, double v) { effects(t, b).count_m = v; }},
    {"side", "noise", "m", 0, 0.01, "3 um", [](T& t, bool b, double v) { effects(t, b).noise_m = v; }},
    {"side", "sampled_late", "s", -0.1, 0.1, "120 us",
     [](T& t, bool b, double v) { effects(t, b).sampled_late_s = v; }},
    {"side", "sampled_late_growth", "1", -0.01, 0.01, "2 ppm",
     [](T& t, bool b, double v) { effects(t, b).sampled_late_growth = v; }},
    {"side", "feedback_reversed", "yes", 0, 1, "true", [](T& t, bool b, double) { now(t, b).feedback_factor *= -1; }},
    {"side", "feedback_frozen", "yes", 0, 1, "true", [](T& t, bool b, double) { now(t, b).frozen_feedback = true; }},
    {"side", "feedback_slip", "m", -1, 1, "50 um", [](T& t, bool b, double v) { now(t, b).feedback_added_m += v; }},
    // The controller's, of one side
    {"side", "deadband", "m", 0, 0.1, "20 um",
     [](T& t, bool b, double v) { (b ? t.breaks.deadband_b_m : t.breaks.deadband_a_m) = v; }},
    {"side", "following_trip", "m", 1e-8, 10, "0.5 mm",
     [](T& t, bool b, double v) { (b ? t.breaks.following_trip_b_m : t.breaks.following_trip_a_m) = v; }},
    {"side", "reference_late", "s", 0, 10, "2 ms",
     [](T& t, bool b, double v) { capture(t, b).reference_late_s = v; }},
    {"side", "reference_scale", "1", -1, 1, "100 ppm",
     [](T& t, bool b, double v) { capture(t, b).reference_scale = v; }},
    // Reference marks of one side, in searches
    {"side", "mark_off", "m", -1, 1, "10 mm", [](T& t, bool b, double v) { capture(t, b).mark_off_m = v; }},
    {"side", "mark_off_every_second", "m", -1, 1, "10 mm",
     [](T& t, bool b, double v) { capture(t, b).mark_off_every_second_m = v; }},
    {"side", "mark_scatter", "m", 0, 0.1, "20 um", [](T& t, bool b, double v) { capture(t, b).mark_scatter_m = v; }},
    {"side", "mark_missing", "yes", 0, 1, "true", [](T& t, bool b, double) { capture(t, b).mark_missing = true; }},
    {"side", "mark_missing_every_second", "yes", 0, 1, "true",
     [](T& t, bool b, double) { capture(t, b).mark_missing_every_second = true; }},
    // Bridge, guides, carriage
    {"bridge", "yaw_stiffness_factor", "1", 0, 100, "0.5",
     [](T& t, bool, double v) { t.gantry.plant.yaw_stiffness_n_m_per_rad *= v; }},
    {"bridge", "yaw_damping_factor", "1", 0, 100, "0.3",
     [](T& t, bool, double v) { t.gantry.plant.yaw_damping_n_m_s_per_rad *= v; }},
    {"bridge", "stress_free_skew_added", "m", -0.1, 0.1, "80 um",
     [](T& t, bool, double v) { t.gantry.plant.stress_free_skew_m += v; }},
    {"bridge", "stress_free_slope", "1", -0.1, 0.1, "200 ppm",
     [](T& t, bool, double v) { t.gantry.effects.stress_free_slope = v; }},
    {"bridge", "stress_free_wave", "m", 0, 0.1, "30 um",
     [](T& t, bool, double v) { t.gantry.effects.stress_free_wave_m = v; }},
    {"bridge", "stress_free_wave_length", "m", 1e-4, 100, "120 mm",
     [](T& t, bool, double v) { t.gantry.effects.stress_free_wave_length_m = v; }},
    {"bridge", "yaw_play", "m", 0, 0.1, "60 um", [](T& t, bool, double v) { t.gantry.effects.yaw_play_m = v; }},
    {"bridge", "mass_added", "kg", 0, 1e5, "20 kg", [](T& t, bool, double v) { t.gantry.plant.fixed_mass_kg += v; }},
    {"bridge", "payload_added", "kg", 0, 1e5, "25 kg", [](T& t, bool, double v) { t.gantry.plant.payload_kg += v; }},
    {"bridge", "carriage_y_added", "m", -50, 50, "300 mm",
     [](T& t, bool, double v) { t.gantry.plant.carriage_y_m += v; }},
    {"bridge", "carriage_ahead_added", "m", -5, 5, "80 mm",
     [](T& t, bool, double v) { t.gantry.plant.carriage_ahead_m += v; }},
    {"bridge", "carriage_stiffness", "N/m", 1e3, 1e12, "2 N/um",
     [](T& t, bool, double v) { t.gantry.plant.carriage_stiffness_n_per_m = v; }},
    {"bridge", "carriage_damping", "N*s/m", 0, 1e9, "300 N*s/m",
     [](T& t, bool, double v) { t.gantry.plant.carriage_damping_n_s_per_m = v; }},
    {"bridge", "bending_factor", "1", 0.05, 20, "0.6", [](T& t, bool, double v) { t.gantry.plant.bending_hz *= v; }},
    {"bridge", "delay_added", "s", 0, 0.02, "500 us", [](T& t, bool, double v) { t.gantry.plant.delay_s += v; }},
    {"bridge", "current_lag_added", "s", 0, 0.1, "1 ms",
     [](T& t, bool, double v) { t.gantry.plant.current_lag_s += v; }},
    // Loops of the pair
    {"loops", "independent", "yes", 0, 1, "true",
     [](T& t, bool, double) { t.structure = servo::Structure::independent; }},
    {"loops", "follower", "yes", 0, 1, "true", [](T& t, bool, double) { t.structure = servo::Structure::follower; }},
    {"loops", "cross_coupled", "yes", 0, 1, "true",
     [](T& t, bool, double) { t.structure = servo::Structure::cross_coupled; }},
    {"loops", "mean_gain_factor", "1", 0, 1000, "2.0", [](T& t, bool, double v) { t.mean_gain_factor = v; }},
    {"loops", "skew_gain_factor", "1", 0, 1000, "8.0", [](T& t, bool, double v) { t.skew_gain_factor = v; }},
    {"loops", "share_added", "1", -1, 1, "0.1", [](T& t, bool, double v) { t.share_added = v; }},
    {"loops", "skew_reference", "m", -0.1, 0.1, "150 um", [](T& t, bool, double v) { t.skew_reference_m = v; }},
    {"loops", "feedback_crossed", "yes", 0, 1, "true", [](T& t, bool, double) { t.breaks.feedback_crossed = true; }},
    {"loops", "outputs_crossed", "yes", 0, 1, "true", [](T& t, bool, double) { t.breaks.outputs_crossed = true; }},
    {"loops", "skew_trip", "m", 1e-8, 10, "0.3 mm", [](T& t, bool, double v) { t.breaks.skew_trip_m = v; }},
    {"loops", "partner_late", "s", 0, 10, "40 ms", [](T& t, bool, double v) { t.breaks.partner_late_s = v; }},
    {"loops", "brakes_open_at", "s", 0, 1000, "100 ms", [](T& t, bool, double v) { t.breaks.brakes_open_s = v; }},
    {"loops", "brakes_close_at", "s", 0, 1000, "700 ms", [](T& t, bool, double v) { t.breaks.brakes_close_s = v; }},
    {"loops", "off_at", "s", 0, 1000, "400 ms", [](T& t, bool, double v) { t.breaks.off_s = v; }},
    {"loops", "on_at", "s", 0, 1000, "900 ms", [](T& t, bool, double v) { t.breaks.on_s = v; }},
    // The captures as a whole
    {"captures", "rack_factor", "1", 0, 100, "3.0", [](T& t, bool, double v) { t.rack_factor = v; }},
    {"captures", "referenced_skew", "m", -0.1, 0.1, "120 um", [](T& t, bool, double v) { t.referenced_skew_m = v; }},
    {"captures", "time_between", "s", 0, 1e6, "30 min", [](T& t, bool, double v) { t.between_captures_s = v; }},
    {"captures", "stress_free_drift", "m/s", -1e-3, 1e-3, "10 nm/s",
     [](T& t, bool, double v) { t.stress_free_drift_m_per_s = v; }},
};

}  // namespace

std::span<const Quantity> quantities() { return table; }

}  // namespace evenbeam::rehearsal
