#pragma once
// An invented machine of which everything is known, and its sheet filled in by a careful person.
#include <string>

#include "readiness/ready_file.h"

namespace evenbeam::readiness {

inline machine::Machine sample_machine() {
  machine::Machine m;
  m.span_m = 2;
  m.bridge_mass_kg = 180, m.end_mass_a_kg = 20, m.end_mass_b_kg = 20, m.carriage_mass_kg = 60;
  m.carriage_min_y_m = -0.8, m.carriage_max_y_m = 0.8, m.payload_max_kg = 20;
  for (machine::Side* s : {&m.a, &m.b}) {
    s->drive = machine::DriveKind::screw, s->lead_m = 0.02, s->drive_inertia_kg_m2 = 1.5e-3;
    s->peak_force_n = 2600, s->continuous_force_n = 900, s->feedback_place = machine::FeedbackPlace::load;
  }
  for (machine::Brake* b : {&m.brake_a, &m.brake_b}) b->hold_force_n = 1500, b->close_s = 0.04, b->release_s = 0.06;
  m.guides.ends = machine::EndKind::bolted;
  m.guides.carriages_a_side = 2, m.guides.spacing_m = 0.26;
  m.guides.static_rating_n = 51000, m.guides.dynamic_rating_n = 31000, m.guides.stated_skew_limit_m = 1.5e-3;
  m.limits.speed_m_per_s = 1, m.limits.acceleration_m_per_s2 = 8, m.limits.travel_m = 1.4;
  return m;
}

// Every line answered with a good value of its own.
inline Sheet good_sheet(const std::vector<CheckLine>& lines) {
  Sheet sheet{.file = "ready.toml"};
  for (const CheckLine& line : lines) {
    Measured m{.instrument = "gauge"};
    if (line.unit.empty())
      m.yes = true;
    else if (line.id == "axis_tilt")
      m.value = 0.0;
    else if (line.low && line.high)
      m.value = (*line.low + *line.high) / 2;
    else if (line.high)
      m.value = *line.high / 2;
    else if (line.low)
      m.value = *line.low * 2;
    else
      m.value = 8e-4, m.high = 1e-3, m.limit_source = "the scale's papers";
    sheet.measured.emplace_back(line.id, m);
  }
  return sheet;
}

inline Measured& at(Sheet& sheet, const std::string& line) {
  for (auto& [id, measured] : sheet.measured)
    if (id == line) return measured;
  return sheet.measured.emplace_back(line, Measured{}).second;
}

}  // namespace evenbeam::readiness
