#include "score.h"

#include <cmath>

#include "homing/marks.h"
#include "identification/fit_station.h"
#include "identification/identify.h"
#include "identification/measured_modes.h"

namespace evenbeam::checks {
namespace {

using identification::Identified;
using math::Estimate;

Score of(const std::string& key, const Estimate& e, double truth, double scale) {
  return {key,
          true,
          (e.value - truth) / scale,
          (e.upper - e.lower) / 2 / scale,
          true,
          e.lower <= truth && truth <= e.upper};
}

// Values of the station, under the keys of truth.json.
void score_station(std::vector<Score>& out, const base::StationOutcome& station, const nlohmann::json& truth) {
  for (const char* key :
       {"moving_mass_kg", "moving_mass_without_motors_kg", "yaw_inertia_kg_m2", "yaw_stiffness_n_m_per_rad",
        "yaw_damping_n_m_s_per_rad", "stress_free_skew_m", "drive_stiffness_a_n_per_m", "drive_stiffness_b_n_per_m",
        "motor_mass_a_kg", "motor_mass_b_kg", "force_scale_a", "force_scale_b", "coulomb_a_n", "coulomb_b_n",
        "viscous_a_n_s_per_m", "viscous_b_n_s_per_m", "delay_s", "current_lag_s", "bending_hz"}) {
    const base::Value* value = base::find_value(station.result, key);
    Score s{.key = key};
    if (value != nullptr && std::holds_alternative<double>(value->value)) {
      const double is = truth[key].get<double>();
      const double scale = std::string(key) == "stress_free_skew_m" ? 1 : std::abs(is);
      const double found = std::get<double>(value->value);
      s.told = true;
      s.error = (found - is) / scale;
      if (value->lower && value->upper) {
        s.has_interval = true;
        s.half_width = (*value->upper - *value->lower) / 2 / scale;
        s.inside = *value->lower <= is && is <= *value->upper;
      }
    }
    out.push_back(s);
  }
}

// Each true mode that the lines reach, against the one that the response was read for nearest to it.
void score_modes(std::vector<Score>& out, const Identified& id, const nlohmann::json& truth) {
  if (!truth.contains("modes")) return;
  const std::vector<identification::MeasuredMode> modes = identification::measured_modes(id.grey, &id.response);
  const double top = id.grey.done ? id.grey.hz.back() : 0;
  int number = 0;
  for (const auto& row : truth["modes"]) {
    const double hz = row["hz"].get<double>(), damping = row["damping"].get<double>();
    const std::string key = "mode " + std::to_string(++number);
    if (hz >= top) continue;  // above the lines measured nobody can know
    const identification::MeasuredMode* nearest = nullptr;
    for (const auto& m : modes)
      if (m.read && (nearest == nullptr || std::abs(m.hz.value - hz) < std::abs(nearest->hz.value - hz)))
        nearest = &m;
    Score none{.key = key}, shape{.key = key + " shape"};
    if (nearest == nullptr || std::abs(nearest->hz.value / hz - 1) > 0.1) {
      out.push_back(none);
      continue;
    }
    out.push_back(of(key, nearest->hz, hz, hz));
    out.push_back(of(key + " damping", nearest->damping, damping, damping));
    const double a = row["a"][0].get<double>(), b = row["b"][0].get<double>();
    shape.told = shape.has_interval = true;
    shape.error = std::max(std::abs(nearest->shape_a - a), std::abs(nearest->shape_b - b));
    shape.half_width = nearest->shape_half_width;
    shape.inside = shape.error <= shape.half_width;
    out.push_back(shape);
  }
}

void score_shares(std::vector<Score>& out, const DemoJob& job, const Identified& id) {
  const auto& rows = job.truth["survey"]["force_share"];
  const double ya = rows.front()["y_m"].get<double>(), yb = rows.back()["y_m"].get<double>();
  for (const auto& row : rows) {
    const double y = row["y_m"].get<double>();
    out.push_back(
        of("share", identification::share_at(id.motion, job.machine, y, 0, false), row["share"].get<double>(), 1));
  }
  const double slope = rows.back()["share"].get<double>() - rows.front()["share"].get<double>();
  const double found = identification::share_at(id.motion, job.machine, yb, 0, false).value -
                       identification::share_at(id.motion, job.machine, ya, 0, false).value;
  out.push_back({"share slope", true, found / slope - 1, 0, false, false});
}

}  // namespace

ScoredMachine score(const DemoJob& job) {
  ScoredMachine out;
  const Identified id = identification::identify(job.recordings, job.machine);
  if (!id.motion.done) {
    out.reason = id.motion.reason;
    return out;
  }
  out.bandwidth_hz = id.motion.bandwidth_hz;
  out.within = id.grey.done ? id.grey.within : -1;
  if (!id.grey.done) out.no_response = id.grey.reason;
  const auto& truth = job.truth["fit"];
  const double a = truth["force_scale_a"].get<double>(), b = truth["force_scale_b"].get<double>();
  const double mass = truth["moving_mass_kg"].get<double>() / ((a + b) / 2);
  out.scores.push_back(of("mass over force", id.motion.mass_kg, mass, mass));
  out.scores.push_back(of("gain ratio", id.motion.gain_ratio_b_to_a, b / a, 1));
  score_shares(out.scores, job, id);
  const homing::Marks marks = homing::find_marks(job.recordings, id.motion, job.machine);
  if (marks.known)
    out.scores.push_back(
        of("marks", marks.b_minus_a_free_m, job.truth["marks"]["marks_a_minus_b_free_m"].get<double>(), 1));
  const auto station = identification::fit_station(job.recordings, job.machine, id);
  score_station(out.scores, station, truth);
  score_modes(out.scores, id, job.truth);
  return out;
}

}  // namespace evenbeam::checks
