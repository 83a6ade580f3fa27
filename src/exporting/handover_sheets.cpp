#include "exporting/handover_sheets.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "machine/describe.h"
#include "units/unit.h"

namespace evenbeam::exporting {
namespace {

using machine::DriveKind;
using machine::FeedbackKind;
using machine::FeedbackPlace;

// What a part must match: known facts in words, unknown keys kept apart.
class Match {
 public:
  explicit Match(const machine::Machine& machine) : machine_(machine) {}

  Match& number(const char* words, const char* key, const std::optional<double>& value, const char* si_unit) {
    if (value)
      known_.push_back(fmt::format("{} {}", words, units::print_quantity(*value, si_unit, shown(si_unit))));
    else
      unknown_.push_back(key);
    return *this;
  }
  Match& text(const std::string& words, const char* key, bool known) {
    known ? known_.push_back(words) : unknown_.push_back(key);
    return *this;
  }
  void add(const char* part, const char* side, SpareParts& out) const {
    out.rows.push_back({{"part", part},
                        {"side", side},
                        {"must_match", fmt::format("{}", fmt::join(known_, ", "))},
                        {"unknown", fmt::format("{}", fmt::join(unknown_, ", "))}});
    for (const std::string& key : unknown_) out.unknown.push_back(fmt::format("{} ({} {})", key, part, side));
  }

 private:
  std::string shown(const char* si_unit) const {
    return units::shown_unit(si_unit, machine_.length_unit, machine_.force_unit);
  }
  const machine::Machine& machine_;
  std::vector<std::string> known_, unknown_;
};

void add_side(const machine::Machine& m, const machine::Side& side, const machine::Brake& brake, const char* name,
              SpareParts& out) {
  const bool linear = side.drive == DriveKind::linear_motor;
  Match(m)
      .number("peak force on the axis", "peak_force", side.peak_force_n, "N")
      .number("100 % output is", "full_output", side.full_output_a, "A")
      .add("drive", name, out);
  Match motor(m);
  motor.number("continuous force on the axis", "continuous_force", side.continuous_force_n, "N");
  if (linear)
    motor.number("moving mass", "drive_mass", side.drive_mass_kg, "kg");
  else
    motor.number("inertia with coupling", "drive_inertia", side.drive_inertia_kg_m2, "kg*m^2");
  if (side.motors > 1) motor.text(fmt::format("{} on this side", side.motors), "motors", true);
  motor.add("motor", name, out);
  if (!linear)
    Match(m)
        .text(machine::word(side.drive), "drive", side.drive != DriveKind::unknown)
        .number("travel a turn", "lead", side.lead_m, "m")
        .number("stiffness", "drive_stiffness", side.drive_stiffness_n_per_m, "N/m")
        .add("transmission", name, out);
  Match feedback(m);
  feedback.text(machine::word(side.feedback), "feedback", side.feedback != FeedbackKind::unknown)
      .text(machine::word(side.feedback_place), "feedback_on", side.feedback_place != FeedbackPlace::unknown);
  feedback.number("a count is", "count", side.count_m, "m");
  if (side.feedback != FeedbackKind::absolute && side.mark_pitch_m)
    feedback.number("marks every", "mark_pitch", side.mark_pitch_m, "m");
  feedback.add("scale or encoder", name, out);
  if (brake.hold_force_n || brake.close_s || brake.release_s)
    Match(m)
        .number("holds", "brake_hold_force", brake.hold_force_n, "N")
        .number("closes in", "brake_close_time", brake.close_s, "s")
        .number("releases in", "brake_release_time", brake.release_s, "s")
        .add("brake", name, out);
}

constexpr BaselineRule rules[] = {
    {"fit", "coulomb_a_n", "friction of A", "slow jog there and back", 0.3, 0.3, 5},
    {"fit", "coulomb_b_n", "friction of B", "slow jog there and back", 0.3, 0.3, 5},
    {"marks", "marks_a_minus_b_free_m", "marks' difference at the free attitude", "five reference searches", 0, 0,
     1e-4},
    {"square", "out_of_square_rad", "out of square", "squareness measurement", 0, 0, 2e-5},
    {"fit", "stress_free_skew_m", "skew at which the guides are free", "five reference searches", 0, 0, 1e-4},
    {"fit", "yaw_stiffness_n_m_per_rad", "yaw stiffness of guides and mountings", "skew steps", 0.2, 0.3, 0},
    {"survey", "mode_hz", "lowest mode", "multisine from A and from B", 0.05, 0.05, 0},
    {"prove", "peak_skew_m", "largest skew in the test moves", "test moves", 0, 0.3, 2e-6},
    {"prove", "rms_force_a", "RMS force of A, part of peak", "test moves", 0, 0.2, 0.02},
    {"prove", "rms_force_b", "RMS force of B, part of peak", "test moves", 0, 0.2, 0.02},
};

// The number, or the first of a list.
std::optional<double> number_in(const base::Value& value) {
  if (const double* one = std::get_if<double>(&value.value)) return *one;
  const auto* list = std::get_if<std::vector<double>>(&value.value);
  return list && !list->empty() ? std::optional(list->front()) : std::nullopt;
}

}  // namespace

std::vector<base::Row> backup_list(const machine::Machine& m) {
  std::vector<base::Row> rows;
  const auto add = [&](const char* what, const char* where, const char* why) {
    rows.push_back({{"what", what}, {"where", where}, {"why", why}});
  };
  add("machine.toml, recordings.toml, recordings/, journal.sqlite", "a copy off this laptop",
      "everything else can be made again from them");
  add("results/settings.toml and settings.st", "beside the controller's program", "the settings in force");
  add("parameter set of drive A, as text", "with date and firmware version", "a replacement starts from it");
  add("parameter set of drive B, as text", "with date and firmware version",
      "the two sets are compared line by line after a repair");
  add("controller program and the pair's configuration", "as project and as text",
      "which side commands, what trips, what is tied");
  add("thresholds and reactions of trips", "screen copy or text", "not part of any settings file");
  const bool absolute = m.a.feedback == FeedbackKind::absolute || m.b.feedback == FeedbackKind::absolute;
  add(absolute ? "zero of the absolute feedback, both sides" : "home offsets of both sides",
      "values of station marks, in result.json", "lost with the drive or the feedback");
  add("electrical angle at the mark, both sides", "as read over several power-ups",
      "tells a slipped coupling and a changed motor");
  if (m.brake_a.hold_force_n || m.brake_b.hold_force_n)
    add("brake times and hold as measured", "on the check sheet", "wear shows against them");
  return rows;
}

SpareParts spare_parts(const machine::Machine& m) {
  SpareParts out;
  add_side(m, m.a, m.brake_a, "A", out);
  add_side(m, m.b, m.brake_b, "B", out);
  Match guides(m);
  guides.text(fmt::format("{} a rail", m.guides.carriages_a_side.value_or(0)), "carriages_a_side",
              m.guides.carriages_a_side.has_value());
  guides.number("C", "dynamic_rating", m.guides.dynamic_rating_n, "N")
      .number("C0", "static_rating", m.guides.static_rating_n, "N")
      .add("guide carriages", "A and B", out);
  return out;
}

std::vector<base::Row> maintenance_baseline(const std::vector<base::StationResult>& stations) {
  std::vector<base::Row> rows;
  for (const BaselineRule& rule : rules) {
    const auto station = std::find_if(stations.begin(), stations.end(),
                                      [&](const base::StationResult& one) { return one.name == rule.station; });
    const base::Value* value = station == stations.end() ? nullptr : base::find_value(*station, rule.key);
    const std::optional<double> now = value ? number_in(*value) : std::nullopt;
    if (!now) continue;
    // Not tighter than what the first measurement could tell.
    const double doubt = value->lower && value->upper ? (*value->upper - *value->lower) / 2 : 0;
    const double least = std::max(rule.least, doubt), size = std::abs(*now);
    const bool both = rule.below == 0 && rule.above == 0;  // a place: either way
    base::Row row{{"what", rule.words}, {"now", *now}, {"unit", value->unit}};
    row.emplace_back("act_below", both || rule.below > 0 ? base::Cell(*now - std::max(least, rule.below * size))
                                                         : base::Cell(std::string("-")));
    row.emplace_back("act_above", both || rule.above > 0 ? base::Cell(*now + std::max(least, rule.above * size))
                                                         : base::Cell(std::string("-")));
    row.emplace_back("watch", std::string(rule.watch));
    rows.push_back(std::move(row));
  }
  return rows;
}

}  // namespace evenbeam::exporting
