#include "identification/survey_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "dynamics/modes.h"
#include "identification/response_figures.h"
#include "identification/survey_findings.h"

namespace evenbeam::identification {
namespace {

using base::Row;
using base::Value;

// Share by the papers: uniform bridge unless its centre is stated, ends and drives at the rails.
std::optional<double> paper_share(const machine::Machine& m, double y_m) {
  const auto mass = machine::nameplate_mass_kg(m, 0);
  if (!mass || !m.carriage_mass_kg) return std::nullopt;
  const double ends = m.end_mass_b_kg.value_or(0) - m.end_mass_a_kg.value_or(0);
  const double drives = machine::reflected_mass_kg(m.b).value_or(0) - machine::reflected_mass_kg(m.a).value_or(0);
  const double moment = m.bridge_mass_kg.value_or(0) * m.bridge_centre_y_m.value_or(0) + *m.carriage_mass_kg * y_m +
                        (ends + drives) * m.span_m / 2;
  return 0.5 - moment / (*mass * m.span_m);
}

std::string words_for(const dynamics::Mode& mode) {
  const double stretch_a = std::abs(mode.motor_a - mode.end_a), stretch_b = std::abs(mode.motor_b - mode.end_b);
  const std::string drive = stretch_a > 2 * stretch_b   ? "mostly side A's drive (screw, belt or coupling)"
                            : stretch_b > 2 * stretch_a ? "mostly side B's drive (screw, belt or coupling)"
                                                        : "both drives about alike";
  if (mode.name == "yaw") return "the bridge yaws on its guides, A and B go against each other";
  const double travel =
      std::max({std::abs(mode.motor_a), std::abs(mode.motor_b), std::abs(mode.end_a), std::abs(mode.end_b), 1e-300});
  if (mode.name == "bending" && std::max(stretch_a, stretch_b) > 0.5 * travel)
    return "the drives stretch and the bridge bows along, " + drive;
  if (mode.name == "bending") return "the bridge bows: its middle goes against its ends";
  if (mode.name == "carriage") return "the carriage rocks on the bridge";
  if (mode.name == "drives together") return "the drives stretch together against the bridge, " + drive;
  if (mode.name == "drives opposed") return "the drives stretch against each other, " + drive;
  return mode.name;
}

math::Estimate scaled(const math::Estimate& x, const std::optional<math::Estimate>& scale) {
  if (!scale) return x;
  return math::with_sd(x.value * scale->value, std::hypot(x.sd * scale->value, x.value * scale->sd), x.from_data);
}

Value value_of(const math::Estimate& x, const char* unit) {
  return {.value = x.value, .unit = unit, .lower = x.lower, .upper = x.upper};
}

Value mode_list(const std::vector<SurveyMode>& modes) {
  Value out{.unit = "Hz"};
  std::vector<double> hz;
  for (const SurveyMode& mode : modes)
    if (mode.seen) hz.push_back(mode.hz);
  if (!hz.empty()) out.value = hz;
  return out;
}

Value mode_rows(const std::vector<SurveyMode>& modes) {
  Value out{.unit = ""};
  std::vector<Row> rows;
  for (const SurveyMode& mode : modes) {
    const MeasuredMode& m = mode.measured;
    Row row{{"hz", mode.hz}, {"damping", mode.damping}, {"name", mode.name}, {"words", mode.words}};
    row.emplace_back("seen", std::string(mode.seen ? "yes" : "no: outside the measured lines"));
    row.emplace_back("from", m.read ? std::string("the response") : "the fitted plant: " + m.why_not);
    if (m.read) {
      row.emplace_back("hz_lower", m.hz.lower), row.emplace_back("hz_upper", m.hz.upper);
      row.emplace_back("damping_lower", std::max(0.0, m.damping.lower));
      row.emplace_back("damping_upper", m.damping.upper);
      row.emplace_back("shape_a", m.shape_a), row.emplace_back("shape_b", m.shape_b);
      row.emplace_back("shape_half_width", m.shape_half_width);
    }
    rows.push_back(std::move(row));
  }
  if (!rows.empty()) out.value = rows;
  return out;
}

// What was read stands at the place of the response; elsewhere it is the plant's word.
Value carriage_rows(const std::vector<ModePlace>& places, const std::vector<SurveyMode>& modes) {
  std::vector<Row> rows;
  for (const ModePlace& p : places)
    for (size_t k = 0; k < p.hz.size(); ++k)
      if (modes[k].seen && std::isfinite(p.hz[k]))
        rows.push_back({{"carriage_y_m", p.carriage_y_m},
                        {"name", modes[k].name},
                        {"hz", p.hz[k]},
                        {"measured", std::string(p.measured && modes[k].measured.read ? "yes" : "no")}});
  return rows.empty() ? Value{.unit = ""} : Value{.value = rows, .unit = ""};
}

Value share_rows(const std::vector<SharePlace>& places) {
  std::vector<Row> rows;
  for (const SharePlace& p : places)
    rows.push_back({{"y_m", p.y_m}, {"share", p.share.value}, {"lower", p.share.lower}, {"upper", p.share.upper}});
  return {.value = rows, .unit = "1"};
}

// Commanded force of one side over its peak.
struct SideUse {
  double needed_n = 0, use = 0;
};
SideUse side_use(const MotionFit& motion, const machine::Machine& machine, bool side_a, double y_m, double payload_kg,
                 double acceleration) {
  const double share = share_at(motion, machine, y_m, payload_kg, false).value;
  const double scale = motion.payload_scale ? motion.payload_scale->value : 1;
  const double mass = motion.mass_kg.value + scale * payload_kg;
  const double e = motion.force_imbalance.value, speed = machine.limits.speed_m_per_s.value_or(0);
  const double friction = side_a ? motion.coulomb_a_n.value + motion.viscous_a_n_s_per_m.value * speed
                                 : motion.coulomb_b_n.value + motion.viscous_b_n_s_per_m.value * speed;
  const double real = (side_a ? share : 1 - share) * mass * acceleration + std::max(0.0, friction);
  const double needed = real / (side_a ? 1 + e : 1 - e);
  return {needed, needed / (side_a ? *machine.a.peak_force_n : *machine.b.peak_force_n)};
}

ForceBudget worst_use(const MotionFit& motion, const machine::Machine& machine, double acceleration) {
  ForceBudget worst{.acceleration_m_per_s2 = acceleration};
  const machine::CarriageRange range = machine::carriage_range(machine);
  for (const double y : {range.min_y_m, range.max_y_m})
    for (const double payload : {machine.payload_min_kg, machine.payload_max_kg.value_or(machine.payload_min_kg)})
      for (const bool side_a : {true, false}) {
        const SideUse use = side_use(motion, machine, side_a, y, payload, acceleration);
        if (use.use <= worst.use) continue;
        worst.use = use.use;
        worst.needed_n = use.needed_n;
        worst.peak_n = side_a ? *machine.a.peak_force_n : *machine.b.peak_force_n;
        worst.y_m = y, worst.payload_kg = payload, worst.side_a = side_a;
      }
  return worst;
}

base::StationOutcome not_possible(const std::string& reason) {
  base::StationOutcome out;
  out.result.name = "survey";
  out.result.values = {
      {"mode_hz", {.unit = "Hz"}}, {"moving_mass_kg", {.unit = "kg"}}, {"force_share", {.unit = "1"}}};
  out.result.findings.push_back(
      {.id = "no_fit",
       .text = "What machine this is cannot be told from the recordings: " + reason + ".",
       .next =
           "Loops closed and soft, both sides together: move 0.3 m or more there and back at the process's "
           "acceleration with the carriage at one end, then at the other; record both positions and both outputs at "
           "1 kHz or more; note the carriage's place."});
  return out;
}

}  // namespace

std::vector<SharePlace> share_along_y(const MotionFit& motion, const machine::Machine& machine, int places) {
  base::check(motion.done && places > 1, "a share along y needs a finished fit and two places", {double(places)});
  const machine::CarriageRange range = machine::carriage_range(machine);
  std::vector<SharePlace> out;
  for (int i = 0; i < places; ++i) {
    const double y = range.min_y_m + (range.max_y_m - range.min_y_m) * i / (places - 1);
    out.push_back({y, share_at(motion, machine, y, 0, false), paper_share(machine, y)});
  }
  return out;
}

std::vector<SurveyMode> survey_modes(const GreyFit& grey, const signal::Response* response) {
  std::vector<SurveyMode> out;
  if (!grey.done) return out;
  // Half a line spacing beyond the ends would do; 5 % beyond them a resonance still shows its flank.
  const double low = 0.95 * grey.hz.front(), high = 1.05 * grey.hz.back();
  for (const MeasuredMode& m : measured_modes(grey, response)) {
    const bool seen = m.model.hz >= low && m.model.hz <= high;
    out.push_back({m.read ? m.hz.value : m.model.hz, m.read ? m.damping.value : m.model.damping, m.model.name,
                   words_for(m.model), seen, m});
  }
  return out;
}

std::optional<ForceBudget> force_budget(const MotionFit& motion, const machine::Machine& machine) {
  if (!motion.done || !machine.a.peak_force_n || !machine.b.peak_force_n) return std::nullopt;
  double rated = machine.limits.acceleration_m_per_s2.value_or(0);
  for (const machine::PlannedMove& move : machine.moves) rated = std::max(rated, move.acceleration_m_per_s2);
  if (rated > 0) {
    ForceBudget budget = worst_use(motion, machine, rated);
    budget.stated = true;
    return budget;
  }
  // Each side's use is a straight line in the acceleration, the worst of them convex: bisection holds.
  double low = 0, high = 1;
  if (worst_use(motion, machine, 0).use >= 1 - force_reserve) return worst_use(motion, machine, 0);
  while (worst_use(motion, machine, high).use < 1 - force_reserve && high < 1e4) high *= 2;
  for (int i = 0; i < 60; ++i) {
    const double middle = (low + high) / 2;
    (worst_use(motion, machine, middle).use < 1 - force_reserve ? low : high) = middle;
  }
  return worst_use(motion, machine, low);
}

base::StationOutcome survey_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const SurveyInput& input) {
  const MotionFit& motion = input.motion;
  if (!motion.done) return not_possible(motion.reason);
  base::StationOutcome out;
  base::StationResult& result = out.result;
  result.name = "survey";
  const math::Estimate mass = scaled(motion.mass_kg, input.force_scale);
  const std::vector<SharePlace> places = share_along_y(motion, machine);
  const std::vector<SurveyMode> modes = survey_modes(input.grey, input.response);
  result.values = {{"mode_hz", mode_list(modes)},
                   {"moving_mass_kg", value_of(mass, "kg")},
                   {"force_share", share_rows(places)},
                   {"carriage_mass_kg", value_of(scaled(motion.carriage_mass_kg, input.force_scale), "kg")},
                   {"modes", mode_rows(modes)}};
  std::vector<ModePlace> over;
  if (input.grey.done) {
    std::vector<MeasuredMode> measured;
    for (const SurveyMode& mode : modes) measured.push_back(mode.measured);
    const machine::CarriageRange range = machine::carriage_range(machine);
    over = modes_over_carriage(input.grey, measured, range.min_y_m, range.max_y_m);
  }
  result.values.emplace_back("modes_over_carriage", carriage_rows(over, modes));
  result.findings = {mass_finding(mass, machine, input), carriage_finding(motion),
                     share_finding(places, machine, motion),
                     budget_finding(force_budget(motion, machine), machine, motion)};
  for (const base::Finding& f : mode_findings(modes, input, recordings)) result.findings.push_back(f);
  result.findings.push_back(response_finding(input, recordings));
  result.verdict = base::overall(result.findings);
  out.figures.push_back(share_figure(places, motion));
  if (!over.empty()) out.figures.push_back(modes_figure(over, modes));
  if (input.grey.done)
    for (base::Figure& figure : response_figures(input.grey, input.response))
      out.figures.push_back(std::move(figure));
  return out;
}

}  // namespace evenbeam::identification
