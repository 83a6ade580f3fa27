#include "workflow/simulate.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/input_error.h"
#include "base/json.h"
#include "dynamics/modes.h"

namespace evenbeam::workflow {
namespace {

using base::Json;
using rehearsal::SimulatedCapture;
using rehearsal::Take;

rehearsal::CaptureInput capture_input(const VirtualJob& job, const SimulateRequest& request) {
  rehearsal::CaptureInput in{.machine = job.gantry,
                             .amounts = job.input.table.amounts,
                             .proposed = job.input.settings,
                             .payload_max_kg = job.machine.payload_max_kg,
                             .allowable_skew_m = job.input.allowable_skew_m,
                             .seed = request.seed,
                             .defects = request.defects};
  if (!job.machine.moves.empty()) {
    const machine::PlannedMove& own = job.machine.moves.front();
    in.move = {own.distance_m, own.speed_m_per_s, own.acceleration_m_per_s2, own.jerk_m_per_s3};
  }
  return in;
}

SimulatedFile told(const SimulatedCapture& c, const dynamics::Plant& p) {
  SimulatedFile out{.file = c.file, .what = c.what, .seconds = c.series.time_s.back()};
  if (!c.has_a || !c.has_b) return out;
  double most = 0;
  for (std::size_t k = 0; k < c.series.true_a_m.size(); ++k)
    most = std::max(most, std::abs(c.series.true_a_m[k] - c.series.true_b_m[k] - p.stress_free_skew_m));
  out.peak_skew_m = most;
  return out;
}

Json or_null(const std::optional<double>& value) { return value ? Json(*value) : Json(); }

Json side_json(const dynamics::PlantSide& s) {
  return {{"motor_mass_kg", s.motor_mass_kg},
          {"drive_stiffness_n_per_m", s.drive_stiffness_n_per_m},
          {"drive_damping_n_s_per_m", s.drive_damping_n_s_per_m},
          {"coulomb_n", s.coulomb_n},
          {"viscous_n_s_per_m", s.viscous_n_s_per_m},
          {"force_scale", s.force_scale}};
}

Json plant_json(const dynamics::Plant& p) {
  return {{"span_m", p.span_m},
          {"fixed_mass_kg", p.fixed_mass_kg},
          {"fixed_moment_kg_m", p.fixed_moment_kg_m},
          {"fixed_inertia_kg_m2", p.fixed_inertia_kg_m2},
          {"carriage_mass_kg", p.carriage_mass_kg},
          {"payload_kg", p.payload_kg},
          {"carriage_y_m", p.carriage_y_m},
          {"carriage_ahead_m", p.carriage_ahead_m},
          {"yaw_stiffness_n_m_per_rad", p.yaw_stiffness_n_m_per_rad},
          {"yaw_damping_n_m_s_per_rad", p.yaw_damping_n_m_s_per_rad},
          {"stress_free_skew_m", p.stress_free_skew_m},
          {"bending_hz", p.bending_hz},
          {"bending_damping", p.bending_damping},
          {"bending_mass_kg", p.bending_mass_kg},
          {"bending_end_shape", p.bending_end_shape},
          {"carriage_stiffness_n_per_m", p.carriage_stiffness_n_per_m},
          {"carriage_damping_n_s_per_m", p.carriage_damping_n_s_per_m},
          {"delay_s", p.delay_s},
          {"current_lag_s", p.current_lag_s},
          {"feedback_on_motor", p.feedback_on_motor},
          {"a", side_json(p.a)},
          {"b", side_json(p.b)}};
}

Json broken_json(const std::vector<rehearsal::Defects>& all) {
  Json out = Json::array();
  for (const rehearsal::Defects& d : all) {
    Json changes = Json::array();
    for (const rehearsal::Change& c : d.changes)
      changes.push_back({{"where", c.where}, {"what", c.key}, {"value", c.value}, {"unit", rehearsal::unit_of(c)}});
    out.push_back(
        {{"name", d.name}, {"runs", d.runs}, {"from_s", d.from_s ? Json(*d.from_s) : Json()}, {"changes", changes}});
  }
  return out;
}

// Under the keys that the stations use for the same things.
Json expected_json(const rehearsal::CaptureInput& in, const dynamics::Plant& p) {
  Json modes = Json::array();
  for (const dynamics::Mode& mode : dynamics::modes(p)) modes.push_back(mode.hz);
  const rehearsal::TrueMarks marks = rehearsal::marks_of(in);
  return {{"fit",
           {{"moving_mass_kg", dynamics::total_mass_kg(p)},
            {"yaw_inertia_kg_m2", dynamics::yaw_inertia_kg_m2(p)},
            {"yaw_stiffness_n_m_per_rad", p.yaw_stiffness_n_m_per_rad},
            {"stress_free_skew_m", p.stress_free_skew_m - rehearsal::main_rack_m(in)},
            {"coulomb_a_n", p.a.coulomb_n},
            {"coulomb_b_n", p.b.coulomb_n},
            {"mode_hz", modes}}},
          {"survey", {{"force_share", {{{"y_m", p.carriage_y_m}, {"share", dynamics::balanced_share(p)}}}}}},
          {"nudge", {{"gain_ratio_b_to_a", p.b.force_scale / p.a.force_scale}}},
          {"marks", {{"marks_a_minus_b_free_m", marks.a_m - marks.b_m - p.stress_free_skew_m}}}};
}

std::string truth_text(const VirtualJob& job, const rehearsal::CaptureInput& in,
                       const std::vector<SimulatedCapture>& captures) {
  // As it is in every run from its start; what is broken only later or in some runs stands under `broken` alone.
  const dynamics::Plant plant = rehearsal::broken(in.machine.gantry, in.defects, {}).gantry.plant;
  Json files = Json::array();
  for (const SimulatedCapture& c : captures)
    files.push_back({{"file", c.file},
                     {"what", c.what},
                     {"carriage_y_m", c.carriage_y_m},
                     {"payload_kg", c.payload_kg},
                     {"zero_a_m", c.zero_a_m},
                     {"zero_b_m", c.zero_b_m},
                     {"peak_skew_from_stress_free_m", or_null(told(c, plant).peak_skew_m)}});
  Json assumed = Json::array();
  for (const std::string& one : job.gantry.assumed) assumed.push_back(one);
  const rehearsal::TrueMarks marks = rehearsal::marks_of(in);
  const Json truth{{"format", "evenbeam.truth/1"},
                   {"machine", job.name},
                   {"seed", in.seed},
                   {"virtual_machine", job.gantry.fitted ? "fit" : "papers"},
                   {"assumed", assumed},
                   {"broken", broken_json(in.defects)},
                   {"expected", expected_json(in, plant)},
                   {"mark_a_m", marks.a_m},
                   {"mark_b_m", marks.b_m},
                   {"plant", plant_json(plant)},
                   {"files", files}};
  return base::to_text(truth) + "\n";
}

std::string plans_text(const VirtualJob& job, const rehearsal::CaptureInput& in,
                       const std::vector<SimulatedCapture>& captures) {
  std::string text = fmt::format(
      "# Captures from the virtual gantry, seed {}: no machine moved.\nformat = "
      "\"evenbeam.recordings/1\"\n",
      in.seed);
  const auto uses = [&](const char* loops) {
    return std::any_of(captures.begin(), captures.end(), [&](const auto& c) { return c.loops == loops; });
  };
  if (uses("soft")) text += rehearsal::loops_text("soft", job.gantry.loops);
  if (uses("proposed")) text += rehearsal::loops_text("proposed", *in.proposed);
  for (const SimulatedCapture& c : captures) text += rehearsal::entry_text(c);
  return text;
}

}  // namespace

Simulated simulate(base::Disk& disk, const SimulateRequest& request, const Progress& progress) {
  const std::string folder = request.into.empty()
                                 ? base::join_path(request.places.job, fmt::format("simulated-{}", request.seed))
                                 : request.into;
  if (disk.has_folder(folder) || disk.has_file(folder))
    throw base::InputError(
        {.file = folder,
         .found = "something already there",
         .expected = "a new folder: recordings are never written over",
         .next = "Name another with --into, take another --seed, or remove it. Nothing was changed."});
  const VirtualJob job = virtual_job(disk, request.places, progress);
  const rehearsal::CaptureInput in = capture_input(job, request);
  std::vector<SimulatedCapture> captures;
  for (int i = 0; i < rehearsal::takes; ++i) {
    const auto take = static_cast<Take>(i);
    const auto& wanted = request.takes;
    if (!wanted.empty() && std::find(wanted.begin(), wanted.end(), take) == wanted.end()) continue;
    auto some = rehearsal::make_captures(in, take, [&](const std::string& name) {
      progress("virtual gantry: " + name);
      return true;
    });
    std::move(some.begin(), some.end(), std::back_inserter(captures));
  }
  Simulated out{.folder = folder,
                .truth = base::join_path(folder, "truth.json"),
                .fitted = job.gantry.fitted,
                .assumed = job.gantry.assumed};
  const dynamics::Plant plant = rehearsal::broken(in.machine.gantry, in.defects, {}).gantry.plant;
  const std::string recordings = base::join_path(folder, "recordings");
  disk.make_folder(recordings);
  for (const SimulatedCapture& c : captures) {
    progress("writing " + c.file);
    disk.write(base::join_path(recordings, c.file), rehearsal::capture_text(c, job.gantry, request.form));
    out.files.push_back(told(c, plant));
  }
  disk.write(base::join_path(folder, "recordings.toml"), plans_text(job, in, captures));
  disk.write(out.truth, truth_text(job, in, captures));
  disk.write(base::join_path(folder, "machine.toml"), disk.read(request.places.machine));
  return out;
}

}  // namespace evenbeam::workflow
