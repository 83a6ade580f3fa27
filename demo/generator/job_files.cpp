#include "job_files.h"

#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>

namespace generator {
namespace {

using Json = nlohmann::ordered_json;

// Shortest text that reads back to the number rounded to `digits` significant places, never with an exponent.
std::string number(double value, int digits = 6) {
  char text[64];
  const auto rough = std::to_chars(text, text + sizeof text, value, std::chars_format::scientific, digits - 1);
  double rounded = 0;
  std::from_chars(text, rough.ptr, rounded);
  const auto end = std::to_chars(text, text + sizeof text, rounded, std::chars_format::fixed);
  return {text, end.ptr};
}

std::string line(const std::string& key, double value, const std::string& unit, int digits = 4) {
  return key + " = \"" + number(value, digits) + " " + unit + "\"\n";
}

// Both sides share a table where the papers say the same of them, which is the rule.
std::string side_table(const Campaign& c) {
  const Papers& p = c.papers;
  std::string text = "\n[side]\ndrive = \"" + p.drive + "\"\n";
  if (p.lead_m) {
    const double radius = *p.lead_m / 6.283185307179586;
    text += line("lead", *p.lead_m * 1e3, "mm", 9);
    text += line("drive_inertia", p.drive_mass_kg * radius * radius, "kg*m^2");
  } else {
    text += line("drive_mass", p.drive_mass_kg, "kg");
  }
  text += line("peak_force", p.peak_n, "N");
  text +=
      std::string("feedback = \"incremental\"\nfeedback_on = \"") + (c.sensing.on_motor ? "motor" : "load") + "\"\n";
  return text + line("count", c.sensing.count_m * 1e6, "um");
}

std::string loop_table(const std::string& name, const Loop& loop) {
  return "\n[" + name + "]\n" + line("position_gain", loop.position_gain_per_s, "1/s", 17) +
         line("velocity_gain", loop.velocity_gain_n_s_per_m, "N*s/m", 17) +
         line("velocity_integral", loop.velocity_integral_s, "s", 17) +
         line("velocity_filter", loop.velocity_filter_hz, "Hz", 17);
}

std::string loops_table(const std::string& name, const LoopSettings& s) {
  const std::string path = "loops." + name;
  return "\n[" + path + "]\n" + line("period", s.period_s * 1e6, "us", 17) + "share = " + number(s.share, 17) + "\n" +
         line("mass_ff", s.mass_ff_kg, "kg", 17) + line("peak_force_a", s.peak_a_n, "N", 17) +
         line("peak_force_b", s.peak_b_n, "N", 17) + loop_table(path + ".mean", s.mean) +
         loop_table(path + ".skew", s.skew);
}

Json side_truth(const TrueSide& s) {
  return {{"motor_mass_kg", s.motor_mass_kg},
          {"drive_stiffness_n_per_m", s.drive_stiffness_n_per_m},
          {"drive_damping_n_s_per_m", s.drive_damping_n_s_per_m},
          {"coulomb_n", s.coulomb_n},
          {"breakaway_n", s.breakaway_n},
          {"stribeck_speed_m_per_s", s.stribeck_speed_m_per_s},
          {"bristle_travel_m", s.bristle_travel_m},
          {"viscous_n_s_per_m", s.viscous_n_s_per_m},
          {"force_scale", s.force_scale},
          {"ripple_n", s.ripple_n},
          {"ripple_pitch_m", s.ripple_pitch_m},
          {"mark_m", s.mark_m}};
}

Json machine_truth(const TrueGantry& g) {
  return {{"span_m", g.span_m},
          {"bridge_mass_kg", g.bridge_mass_kg},
          {"bridge_centre_y_m", g.bridge_centre_y_m},
          {"end_mass_a_kg", g.end_mass_a_kg},
          {"end_mass_b_kg", g.end_mass_b_kg},
          {"carriage_mass_kg", g.carriage_mass_kg},
          {"carriage_y_m", g.carriage_y_m},
          {"carriage_ahead_m", g.carriage_ahead_m},
          {"yaw_stiffness_n_m_per_rad", g.yaw_stiffness_n_m_per_rad},
          {"yaw_damping_n_m_s_per_rad", g.yaw_damping_n_m_s_per_rad},
          {"stress_free_skew_m", g.stress_free_skew_m},
          {"bending_stiffness_n_per_m", g.bending_stiffness_n_per_m},
          {"bending_damping_n_s_per_m", g.bending_damping_n_s_per_m},
          {"current_lag_s", g.current_lag_s},
          {"side_a", side_truth(g.a)},
          {"side_b", side_truth(g.b)}};
}

Json fit_truth(const Campaign& c, double scale_free_skew_m) {
  const TrueGantry& g = c.truth;
  const RigidSums sums = rigid_sums(g);
  return {{"moving_mass_kg", sums.mass_kg},
          {"moving_mass_without_motors_kg", sums.mass_kg - g.a.motor_mass_kg - g.b.motor_mass_kg},
          {"first_moment_kg_m", sums.moment_kg_m},
          {"yaw_inertia_kg_m2", sums.inertia_kg_m2},
          {"yaw_stiffness_n_m_per_rad", g.yaw_stiffness_n_m_per_rad},
          {"yaw_damping_n_m_s_per_rad", g.yaw_damping_n_m_s_per_rad},
          {"stress_free_skew_m", scale_free_skew_m},
          {"drive_stiffness_a_n_per_m", g.a.drive_stiffness_n_per_m},
          {"drive_stiffness_b_n_per_m", g.b.drive_stiffness_n_per_m},
          {"motor_mass_a_kg", g.a.motor_mass_kg},
          {"motor_mass_b_kg", g.b.motor_mass_kg},
          {"force_scale_a", g.a.force_scale},
          {"force_scale_b", g.b.force_scale},
          {"coulomb_a_n", g.a.coulomb_n},
          {"coulomb_b_n", g.b.coulomb_n},
          {"viscous_a_n_s_per_m", g.a.viscous_n_s_per_m},
          {"viscous_b_n_s_per_m", g.b.viscous_n_s_per_m},
          {"delay_s", c.soft.period_s},
          {"current_lag_s", g.current_lag_s},
          {"bending_hz", bending_hz(g)},
          {"mode_hz", mode_hz(g)}};
}

Json survey_truth(const Campaign& c) {
  Json shares = Json::array();
  for (double y : {c.papers.carriage_min_y_m, 0.0, c.truth.carriage_y_m, c.papers.carriage_max_y_m}) {
    TrueGantry g = c.truth;
    g.carriage_y_m = y;
    const RigidSums sums = rigid_sums(g);
    shares.push_back({{"y_m", y}, {"share", 0.5 - sums.moment_kg_m / (sums.mass_kg * g.span_m)}});
  }
  return {{"moving_mass_kg", rigid_sums(c.truth).mass_kg}, {"mode_hz", mode_hz(c.truth)}, {"force_share", shares}};
}

}  // namespace

std::string machine_toml(const Campaign& c) {
  const Papers& p = c.papers;
  std::string text;
  for (const std::string& remark : p.remarks) text += "# " + remark + "\n";
  text += "format = \"evenbeam.machine/1\"\nname = \"" + p.name + "\"\n" + line("span", p.span_m, "m", 9);
  text += "\n[bridge]\n" + line("mass", p.bridge_mass_kg, "kg") + line("end_mass", p.end_mass_kg, "kg");
  text += "\n[carriage]\n" + line("mass", p.carriage_mass_kg, "kg") + line("min_y", p.carriage_min_y_m, "m", 9) +
          line("max_y", p.carriage_max_y_m, "m", 9) + line("stands_at_y", c.truth.carriage_y_m, "m", 9) +
          line("payload_max", p.payload_max_kg, "kg");
  text += side_table(c);
  text += "\n[guides]\nends = \"bolted\"\ncarriages_a_side = 2\n" + line("spacing", p.guide_spacing_m * 1e3, "mm") +
          line("static_rating", p.guide_static_rating_n / 1e3, "kN") +
          line("stated_skew_limit", p.stated_skew_limit_m * 1e3, "mm");
  text += "\n[limits]\n" + line("travel", p.travel_m, "m") + line("speed", p.speed_m_per_s, "m/s") +
          line("acceleration", p.acceleration_m_per_s2, "m/s^2") + line("jerk", p.jerk_m_per_s3, "m/s^3");
  text += "\n[controller]\n" + line("servo_period", c.soft.period_s * 1e6, "us") + "delay_samples = 1\n";
  return text + "\n[[move]]\nname = \"test move\"\n" + line("distance", c.move_m, "m", 9) +
         line("speed", c.move_limits.speed_m_per_s, "m/s") +
         line("acceleration", c.move_limits.acceleration_m_per_s2, "m/s^2") +
         line("jerk", c.move_limits.jerk_m_per_s3, "m/s^3");
}

std::string recordings_toml(const Campaign& c, const std::vector<PlannedCapture>& captures) {
  std::string text = "format = \"evenbeam.recordings/1\"\n";
  text += loops_table("soft", c.soft) + loops_table("first", c.ringing) + loops_table("better", c.better);
  for (const PlannedCapture& p : captures) {
    text += "\n# " + p.what + "\n[files.\"" + p.file + "\"]\nkind = \"" + p.kind + "\"\n";
    if (!p.excited.empty())
      text += "excited = \"" + p.excited + "\"\n" + line("excitation_period", c.injection.period_s, "s");
    if (!p.position_unit.empty()) text += "position_unit = \"" + p.position_unit + "\"\noutput_unit = \"%\"\n";
    text += line("carriage_y", p.gantry.carriage_y_m, "m", 9) + line("payload", p.gantry.payload_kg, "kg", 9) +
            "switch_on = \"" + p.switch_on + "\"\n";
    if (!p.loops.empty()) text += "loops = \"" + p.loops + "\"\n";
  }
  return text;
}

std::string truth_json(const Campaign& c, const std::vector<PlannedCapture>& captures) {
  const TrueGantry& g = c.truth;
  const Ends zeros = captures.front().plan.zeros.value();
  const double scale_free = g.stress_free_skew_m - (zeros.a - zeros.b);
  Json truth = {{"machine", c.papers.name}, {"survey", survey_truth(c)}, {"fit", fit_truth(c, scale_free)}};
  truth["nudge"] = {{"sign_a", 1},
                    {"sign_b", 1},
                    {"gain_ratio_b_to_a", g.b.force_scale / g.a.force_scale},
                    {"breakaway_a_n", g.a.breakaway_n},
                    {"breakaway_b_n", g.b.breakaway_n}};
  truth["marks"] = {{"marks_a_minus_b_free_m", g.a.mark_m - g.b.mark_m - g.stress_free_skew_m}};
  if (c.squareness) {
    truth["marks"]["marks_a_minus_b_square_m"] = g.a.mark_m - g.b.mark_m - c.squareness->square_skew_m;
    truth["square"] = {{"out_of_square_rad", out_of_square_rad(*c.squareness, c.squareness->middle_m)}};
  }
  truth["whole_truth"] = machine_truth(g);
  return truth.dump(1) + "\n";
}

std::optional<MeasuredSquareness> squareness_of(const Campaign& c) {
  if (!c.squareness) return std::nullopt;
  // Homed so that both sides read alike where the guides carry no moment.
  return demo_squareness(*c.squareness, -(c.truth.a.mark_m - c.truth.b.mark_m - c.squareness->skew_m));
}

}  // namespace generator
