#include "machine/side_file.h"

#include <fmt/format.h>

#include <numbers>

namespace evenbeam::machine {
namespace {

// Ranges hold every machine met between a bench-top gantry and a portal mill; outside, a unit or a point is wrong.
constexpr Plausible lead_range{0.5e-3, 2};
constexpr Plausible pitch_diameter_range{5e-3, 0.5};
constexpr double largest_screw_lead_m = 0.2;
constexpr Plausible inertia_range{1e-8, 10};
constexpr Plausible drive_mass_range{0, 1e4};
constexpr Plausible force_range{1, 1e6};
constexpr Plausible output_range{0.01, 2000};
constexpr Plausible stiffness_range{1e4, 1e11};
constexpr Plausible count_range{1e-10, 1e-3};
constexpr Plausible mark_pitch_range{1e-4, 2};
constexpr Plausible brake_force_range{0, 1e6};
constexpr Plausible brake_time_range{0, 5};

template <class T>
void lay_over(std::optional<T>& field, const std::optional<T>& value) {
  if (value) field = value;
}
template <class T>
void lay_over(T& field, const std::optional<T>& value) {
  if (value) field = *value;
}

// At most one of several ways to say the same thing. True where that holds.
bool only_one(TableReader& table, std::initializer_list<std::string_view> keys) {
  std::string_view first;
  for (const std::string_view key : keys) {
    if (!table.has(key)) continue;
    if (!first.empty()) {
      table.refuse(key, fmt::format("only one of {} and {}", first, key),
                   "They say the same thing; keep the surer one.");
      return false;
    }
    first = key;
  }
  return true;
}

void read_transmission(TableReader& table, SideDraft& draft) {
  Side& side = draft.side;
  const auto drive = table.choice<DriveKind>("drive", {{"screw", DriveKind::screw},
                                                       {"rack", DriveKind::rack},
                                                       {"belt", DriveKind::belt},
                                                       {"linear_motor", DriveKind::linear_motor}});
  lay_over(side.drive, drive);
  if (drive == DriveKind::linear_motor) {  // what [side] said of a turning drive does not hold here
    side.lead_m.reset();
    side.drive_inertia_kg_m2.reset();
    if (draft.counts_per_turn) side.count_m.reset();
    draft.counts_per_turn.reset();
  }
  const auto lead = table.quantity("lead", "m", lead_range, "20 mm");
  const auto diameter = table.quantity("pitch_diameter", "m", pitch_diameter_range, "79.58 mm");
  const auto inertia = table.quantity("drive_inertia", "kg*m^2", inertia_range, "1.5e-3 kg*m^2");
  const auto mass = table.quantity("drive_mass", "kg", drive_mass_range, "9 kg");
  if (side.drive == DriveKind::linear_motor) {
    for (const std::string_view key : {"lead", "pitch_diameter", "drive_inertia"})
      if (table.has(key))
        table.refuse(key, "nothing that turns on a linear motor", "Take it out; its moving mass is drive_mass.");
  } else if (only_one(table, {"lead", "pitch_diameter"})) {
    if (diameter && side.drive == DriveKind::screw)
      table.refuse("pitch_diameter", "the lead of the screw instead", "Right: lead = \"20 mm\".");
    if (lead && side.drive == DriveKind::screw && *lead > largest_screw_lead_m)
      table.refuse("lead", "a screw's lead of at most 200 mm", "Right: lead = \"20 mm\".");
    lay_over(side.lead_m, lead);
    if (diameter) side.lead_m = std::numbers::pi * *diameter;
  }
  if (!only_one(table, {"drive_inertia", "drive_mass"})) return;
  if (inertia) side.drive_inertia_kg_m2 = inertia, side.drive_mass_kg.reset();
  if (mass) side.drive_mass_kg = mass, side.drive_inertia_kg_m2.reset();
  const auto reflected = reflected_mass_kg(side);
  if (inertia && reflected && *reflected > drive_mass_range.high)
    table.refuse("drive_inertia",
                 fmt::format("an inertia that fits the lead; this one is {:.4g} kg referred to x", *reflected),
                 "Look at the unit: kg*cm^2 is often meant. Right: drive_inertia = \"15.2 kg*cm^2\".");
}

void read_force(TableReader& table, SideDraft& draft) {
  Side& side = draft.side;
  lay_over(side.peak_force_n, table.quantity("peak_force", "N", force_range, "2600 N"));
  lay_over(side.continuous_force_n, table.quantity("continuous_force", "N", force_range, "900 N"));
  lay_over(side.full_output_a, table.quantity("full_output", "A", output_range, "9 A"));
  lay_over(side.drive_stiffness_n_per_m, table.quantity("drive_stiffness", "N/m", stiffness_range, "60 N/um"));
  lay_over(side.motors, table.whole_number("motors", {1, 2}, "1"));
  if (!side.peak_force_n || !side.continuous_force_n || *side.continuous_force_n <= *side.peak_force_n) return;
  for (const std::string_view key : {"continuous_force", "peak_force"})
    if (table.has(key))
      return table.refuse(key,
                          fmt::format("continuous_force ({:g} N) at most peak_force ({:g} N)",
                                      *side.continuous_force_n, *side.peak_force_n),
                          "Correct the one that is wrong.");
}

void read_count(TableReader& table, SideDraft& draft) {
  Side& side = draft.side;
  const auto count = table.quantity("count", "m", count_range, "0.5 um");
  const auto per_metre = table.number("counts_per_metre", {1 / count_range.high, 1 / count_range.low}, "2000000");
  const auto per_turn = table.number("counts_per_turn", {4, 1e10}, "8192");
  if (!only_one(table, {"count", "counts_per_metre", "counts_per_turn"})) return;
  if (count || per_metre) draft.counts_per_turn.reset();
  lay_over(side.count_m, count);
  if (per_metre) side.count_m = 1 / *per_metre;
  lay_over(draft.counts_per_turn, per_turn);
  if (!draft.counts_per_turn) return;
  if (side.lead_m) {
    side.count_m = *side.lead_m / *draft.counts_per_turn;
    if (per_turn && (*side.count_m < count_range.low || *side.count_m > count_range.high))
      table.refuse("counts_per_turn", fmt::format("a count of at most 1 mm; this one is {:g} m", *side.count_m),
                   "Right: counts_per_turn = 8192.");
  } else if (per_turn && !table.has("lead") && !table.has("pitch_diameter")) {
    table.refuse("counts_per_turn", "the lead beside it, to know the travel of a count",
                 "Add lead = \"20 mm\", or write count = \"0.5 um\".");
  }
}

void read_feedback(TableReader& table, SideDraft& draft) {
  Side& side = draft.side;
  lay_over(side.feedback_place, table.choice<FeedbackPlace>(
                                    "feedback_on", {{"load", FeedbackPlace::load}, {"motor", FeedbackPlace::motor}}));
  lay_over(side.feedback, table.choice<FeedbackKind>("feedback", {{"incremental", FeedbackKind::incremental},
                                                                  {"distance_coded", FeedbackKind::distance_coded},
                                                                  {"absolute", FeedbackKind::absolute}}));
  lay_over(side.mark_pitch_m, table.quantity("mark_pitch", "m", mark_pitch_range, "20 mm"));
  if (side.feedback == FeedbackKind::absolute && table.has("mark_pitch"))
    table.refuse("mark_pitch", "no marks on absolute feedback", "Take it out, or correct feedback.");
  if (side.mark_pitch_m && side.count_m && *side.mark_pitch_m <= *side.count_m && table.has("mark_pitch"))
    table.refuse("mark_pitch", "more than one count between marks", "Right: mark_pitch = \"20 mm\".");
}

}  // namespace

void read_side(TableReader& table, SideDraft& draft) {
  read_transmission(table, draft);
  read_force(table, draft);
  read_count(table, draft);
  read_feedback(table, draft);
  lay_over(draft.brake.hold_force_n, table.quantity("brake_hold_force", "N", brake_force_range, "500 N"));
  lay_over(draft.brake.close_s, table.quantity("brake_close_time", "s", brake_time_range, "40 ms"));
  lay_over(draft.brake.release_s, table.quantity("brake_release_time", "s", brake_time_range, "60 ms"));
  lay_over(draft.enable.force_ready_s, table.quantity("force_ready_time", "s", brake_time_range, "15 ms"));
  lay_over(draft.enable.brake_open_delay_s, table.quantity("brake_open_delay", "s", brake_time_range, "50 ms"));
  lay_over(draft.enable.force_off_delay_s, table.quantity("force_off_delay", "s", brake_time_range, "100 ms"));
}

}  // namespace evenbeam::machine
