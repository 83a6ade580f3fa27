#include "identification/fit_station.h"

#include <fmt/format.h>

#include <cmath>

#include "dynamics/modes.h"
#include "identification/fit_validation.h"
#include "identification/measured_modes.h"
#include "identification/motion_rows.h"

namespace evenbeam::identification {
namespace {

using base::Finding;
using base::Value;
using base::Verdict;
using math::Estimate;

constexpr double kTold = 0.5;       // below this part of knowledge from data, the papers speak
constexpr double kCondition = 1e3;  // scaled; above it some unknowns cannot be told apart

using Values = std::vector<std::pair<std::string, Value>>;

void put(Values& values, const std::string& key, const Estimate& e, const std::string& unit) {
  Value v{.value = e.value, .unit = unit, .lower = e.lower, .upper = e.upper};
  values.emplace_back(key, v);
}
void unknown(Values& values, const std::string& key, const std::string& unit) {
  values.emplace_back(key, Value{.unit = unit});
}
// The papers' word is not the machine's: a parameter that the recordings don't tell stays unknown.
void put_if_told(Values& values, const std::string& key, const Estimate& e, const std::string& unit) {
  e.from_data >= kTold ? put(values, key, e, unit) : unknown(values, key, unit);
}

void put_masses(Values& values, const Identified& id) {
  const ForceScale& scale = id.scale;
  const Estimate mass = in_real_newtons(id.motion.mass_kg, scale);
  put_if_told(values, "moving_mass_kg", mass, "kg");
  if (id.grey.done) {
    const Estimate a = in_real_newtons(id.grey.parameters[kGreyMotorA], scale);
    const Estimate b = in_real_newtons(id.grey.parameters[kGreyMotorB], scale);
    const double without = mass.value - a.value - b.value;
    put_if_told(values, "moving_mass_without_motors_kg",
                math::with_sd(without, std::sqrt(mass.sd * mass.sd + a.sd * a.sd + b.sd * b.sd),
                              std::min(a.from_data, b.from_data)),
                "kg");
  } else {
    unknown(values, "moving_mass_without_motors_kg", "kg");
  }
}

void put_yaw(Values& values, const Identified& id) {
  const MotionFit& m = id.motion;
  put_if_told(values, "yaw_inertia_kg_m2", in_real_newtons(m.inertia_kg_m2, id.scale), "kg*m^2");
  put_if_told(values, "yaw_stiffness_n_m_per_rad", in_real_newtons(m.yaw_stiffness_n_m_per_rad, id.scale), "N*m/rad");
  put_if_told(values, "yaw_damping_n_m_s_per_rad", in_real_newtons(m.yaw_damping_n_m_s_per_rad, id.scale),
              "N*m*s/rad");
  if (m.switch_ons.empty())
    unknown(values, "stress_free_skew_m", "m");
  else
    put(values, "stress_free_skew_m", m.switch_ons.front().stress_free_skew_m, "m");
}

void put_drives(Values& values, const Identified& id) {
  const char* keys[] = {"drive_stiffness_a_n_per_m", "drive_stiffness_b_n_per_m", "motor_mass_a_kg",
                        "motor_mass_b_kg"};
  const GreyUnknown unknowns[] = {kGreyStiffnessA, kGreyStiffnessB, kGreyMotorA, kGreyMotorB};
  for (int i = 0; i < 4; ++i) {
    const char* unit = i < 2 ? "N/m" : "kg";
    if (id.grey.done)
      put_if_told(values, keys[i], in_real_newtons(id.grey.parameters[unknowns[i]], id.scale), unit);
    else
      unknown(values, keys[i], unit);
  }
  const Estimate& e = id.motion.force_imbalance;
  const double g = id.scale.common.value;
  if (e.from_data >= kTold) {
    put(values, "force_scale_a", math::with_sd(g * (1 + e.value), std::hypot(g * e.sd, id.scale.common.sd)), "1");
    put(values, "force_scale_b", math::with_sd(g * (1 - e.value), std::hypot(g * e.sd, id.scale.common.sd)), "1");
  } else {
    unknown(values, "force_scale_a", "1");
    unknown(values, "force_scale_b", "1");
  }
}

// The bridge taken off its drives, with carriage, ends and guides: its highest mode.
Estimate bending_with_carriage(const GreyFit& grey) {
  dynamics::Plant bare = grey.plant;
  for (auto* side : {&bare.a, &bare.b})
    side->motor_mass_kg = side->drive_stiffness_n_per_m = side->drive_damping_n_s_per_m = 0;
  const Estimate& alone = grey.parameters[kGreyBendingHz];
  const auto modes = dynamics::modes(bare);
  const double hz = modes.empty() ? alone.value : modes.back().hz;
  return math::with_sd(hz, hz * std::max(0.02, alone.sd / alone.value), alone.from_data);
}

void put_friction_and_time(Values& values, const Identified& id) {
  const MotionFit& m = id.motion;
  put_if_told(values, "coulomb_a_n", in_real_newtons(m.coulomb_a_n, id.scale), "N");
  put_if_told(values, "coulomb_b_n", in_real_newtons(m.coulomb_b_n, id.scale), "N");
  put_if_told(values, "viscous_a_n_s_per_m", in_real_newtons(m.viscous_a_n_s_per_m, id.scale), "N*s/m");
  put_if_told(values, "viscous_b_n_s_per_m", in_real_newtons(m.viscous_b_n_s_per_m, id.scale), "N*s/m");
  if (id.grey.done) {
    put_if_told(values, "delay_s", id.grey.parameters[kGreyDelay], "s");
    put_if_told(values, "current_lag_s", id.grey.parameters[kGreyLag], "s");
  } else {
    unknown(values, "delay_s", "s");
    unknown(values, "current_lag_s", "s");
  }
  put_if_told(values, "total_lag_s", m.lag_s, "s");
  if (id.grey.done && id.grey.bends)
    put_if_told(values, "bending_hz", bending_with_carriage(id.grey), "Hz");
  else
    unknown(values, "bending_hz", "Hz");
  std::vector<double> hz;
  if (id.grey.done)
    for (const MeasuredMode& mode : measured_modes(id.grey, &id.response))
      hz.push_back(mode.read ? mode.hz.value : mode.model.hz);
  values.emplace_back("mode_hz", hz.empty() ? Value{.unit = "Hz"} : Value{.value = hz, .unit = "Hz"});
}

// The recording with most rows stands for the evidence.
void cite(Finding& finding, const std::vector<RecordingUse>& uses) {
  const RecordingUse* most = nullptr;
  for (const RecordingUse& use : uses)
    if (most == nullptr || use.rows > most->rows) most = &use;
  if (most == nullptr) return;
  finding.recording = most->name;
  finding.from_s = most->from_s;
  finding.to_s = most->to_s;
}

Finding quality(const MotionFit& m) {
  Finding f{.id = "motion_fit"};
  const bool good = m.condition < kCondition;
  f.verdict = good ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "One law for {} recording{}, seen through {:.3g} Hz, leaves {:.2g} N of the sum of forces unexplained in "
      "the "
      "largest of them{}.",
      m.recordings.size(), m.recordings.size() == 1 ? "" : "s", m.bandwidth_hz, m.recordings.front().residual_mean_n,
      good ? "" : "; some unknowns cannot be told apart by these captures alone and lean on the papers");
  f.value = m.condition;
  f.unit = "1";
  f.limit = kCondition;
  f.source = "condition number of the column-scaled regression; limit: common practice, no source";
  f.next =
      good ? "" : "Add a test move with the carriage at the other end, and a skew step or multisine on one side.";
  cite(f, m.recordings);
  return f;
}

Finding strengths(const Identified& id) {
  const Estimate& ratio = id.motion.gain_ratio_b_to_a;
  Finding f{.id = "force_balance"};
  cite(f, id.motion.recordings);
  f.unit = "1";
  f.source = "limit 5 %: common practice, no source";
  if (ratio.from_data < kTold) {
    f.verdict = Verdict::attention;
    f.text = "These recordings do not tell whether both sides give equal force for equal command.";
    f.next = "Record a multisine (or a chirp) on one side, then on the other, loops closed and soft.";
    return f;
  }
  f.value = ratio.value;
  f.lower = ratio.lower;
  f.upper = ratio.upper;
  f.limit = 0.05;
  const bool equal = ratio.lower > 0.95 && ratio.upper < 1.05;
  f.verdict = equal || std::abs(ratio.value - 1) < 0.05 ? Verdict::pass : Verdict::attention;
  f.text = fmt::format("B gives {:.3f} of A's force for the same command ({:.3f} to {:.3f}).", ratio.value,
                       ratio.lower, ratio.upper);
  f.next = f.verdict == Verdict::pass ? "" : "Compare motor type, current scaling and force constant of both drives.";
  return f;
}

Finding scale_finding(const Identified& id) {
  const ForceScale& s = id.scale;
  Finding f{
      .id = "force_scale", .value = s.common.value, .unit = "1", .lower = s.common.lower, .upper = s.common.upper};
  cite(f, id.motion.recordings);
  std::string evidence;
  for (const ScaleEvidence& piece : s.evidence)
    evidence += fmt::format("{}{} {:.3f} ± {:.3f}", evidence.empty() ? "" : "; ", piece.source, piece.scale.value,
                            1.96 * piece.scale.sd);
  const bool agree = s.disagreement < 3;
  for (const std::string& source : s.left_out)
    evidence += "; left out, since a known force contradicts it: " + source;
  f.verdict = s.evidence.empty() || !agree ? Verdict::attention : Verdict::pass;
  f.text = s.evidence.empty()
               ? "Motion alone tells mass over force constant; no paper and no known weight fixes the scale."
               : fmt::format("Real over nameplate force, both sides together: {:.3f} ({}{}).", s.common.value,
                             evidence, agree ? "" : "; they contradict each other");
  for (const std::string& why : s.untold) f.text += " " + why;
  f.source = "inverse-variance mean of independent knowledge; spreads: common practice, no source";
  f.next = f.verdict == Verdict::pass ? ""
           : s.evidence.empty()
               ? "State peak_force or masses in machine.toml, or repeat a test move with a weighed payload."
               : "Check masses and peak force in machine.toml; a test move with a weighed payload decides.";
  return f;
}

// Told before the test is done; what it then gives is the same sum with the test in it.
Finding gain_finding(const ScaleGain& g) {
  Finding f{.id = "force_test_gain", .verdict = Verdict::pass, .value = 1.96 * g.mass_after, .unit = "1"};
  f.text = fmt::format(
      "A known force would tell more: {} tells the force constant to ±{:.2g} %. With it the force constant is known "
      "to "
      "±{:.2g} % instead of ±{:.2g} %, the moving mass to ±{:.2g} % instead of ±{:.2g} % (95 %).",
      g.test, 196 * g.spread, 196 * g.sd_after, 196 * g.sd_now, 196 * g.mass_after, 196 * g.mass_now);
  f.source = "inverse-variance mean with the test added, docs/equations.md";
  f.next =
      "Where that is worth it: loops closed with their integral parts, nobody in reach of what would move if the "
      "rope "
      "parts; creep by a few millimetres at 5 mm/s both ways, first free, then with the force along x at the side's "
      "own "
      "end; read that side's output and the force in each, the skew back where it was; [[force_test]] of "
      "machine.toml.";
  return f;
}

Finding stress_free(const MotionFit& m) {
  Finding f{.id = "stress_free_skew", .verdict = Verdict::pass, .unit = "m"};
  cite(f, m.recordings);
  const Estimate& s = m.switch_ons.front().stress_free_skew_m;
  f.value = s.value;
  f.lower = s.lower;
  f.upper = s.upper;
  f.text = fmt::format(
      "Guides and mountings carry no yaw moment at a skew of {:.4f} mm ({:.4f} to {:.4f}), in the zero of switch-on "
      "\"{}\".",
      1e3 * s.value, 1e3 * s.lower, 1e3 * s.upper, m.switch_ons.front().name);
  f.source = "fight against skew, friction of each side taken out";
  return f;
}

Finding response_fit(const Identified& id) {
  Finding f{.id = "response_fit"};
  if (!id.grey.done) {
    f.verdict = Verdict::attention;
    f.text = "Drive stiffness, motor masses, delay and bending stay unknown: " + id.grey.reason + ".";
    if (id.response.state == signal::ResponseState::done)
      f.text += " The intervals of yaw stiffness, inertia, share and force balance are widened fourfold for it.";
    f.next =
        "Record, loops closed and soft at slow constant speed, a multisine of about 2 s period added to A's output, "
        "then "
        "the same on B; both positions and both outputs, 1 kHz or faster, eight periods.";
    return f;
  }
  f.verdict = id.grey.within < 0.5 ? Verdict::pass : Verdict::attention;
  f.recording = id.response_recordings.front();
  f.text = fmt::format(
      "The plant follows the measured response at {} lines from {:.3g} to {:.3g} Hz; where it is lumped too coarsely "
      "it "
      "misses by {:.0f} % (root mean square over lines and entries).",
      id.grey.hz.size(), id.grey.hz.front(), id.grey.hz.back(), 100 * id.grey.within);
  if (id.grey.left_above_hz > 0) {
    f.verdict = Verdict::attention;
    f.text += fmt::format(" Above {:.3g} Hz no plant of this form follows it; what lies there is left out.",
                          id.grey.left_above_hz);
    f.next = "Look for loose parts, cable chains or a second bending there before gains are raised to that range.";
  }
  f.value = id.grey.within;
  f.unit = "1";
  f.limit = 0.5;
  f.source = "grey-box fit; limit: common practice, no source";
  return f;
}

std::vector<Finding> untold(const Values& values) {
  std::string list;
  for (const auto& [key, value] : values)
    if (value.value.index() == 0) list += (list.empty() ? "" : ", ") + key;
  if (list.empty()) return {};
  return {{.id = "untold",
           .verdict = Verdict::attention,
           .text = "These recordings do not tell: " + list + ".",
           .next = "A multisine on each side and a test move at each end of the carriage's travel would tell."}};
}

// Measured against modelled force in the test move (or whatever recording) with most rows of its kind.
base::Figure forces_figure(const std::vector<recording::Recording>& recordings, const MotionRows& rows,
                           const MotionFit& m) {
  int chosen = -1;
  for (size_t k = 0; k < recordings.size(); ++k)
    if (usable_for_motion(recordings[k]) && (chosen < 0 || recordings[k].kind == recording::RunKind::test_move))
      chosen = static_cast<int>(k);
  base::Line sum{.role = base::Role::mean, .stroke = base::Stroke::points, .label = "sum, measured"},
      sum_law{.role = base::Role::forecast, .label = "sum, by the law"},
      fight{.role = base::Role::skew, .stroke = base::Stroke::points, .label = "fight, measured"},
      fight_law{.role = base::Role::forecast, .label = "fight, by the law"};
  const Eigen::VectorXd law = rows.regression.a * m.x;
  for (size_t i = 0; i < rows.recording.size(); ++i) {
    if (rows.recording[i] != chosen) continue;
    const bool is_sum = i % 2 == 0;
    auto& measured = is_sum ? sum : fight;
    auto& modelled = is_sum ? sum_law : fight_law;
    const Eigen::Index row = static_cast<Eigen::Index>(i);
    measured.x.push_back(rows.time_s[i]);
    measured.y.push_back(rows.regression.y[row]);
    modelled.x.push_back(rows.time_s[i]);
    modelled.y.push_back(law[row]);
  }
  const std::string name = chosen < 0 ? "" : recordings[static_cast<size_t>(chosen)].name;
  return {.id = "fit_forces",
          .title = "Forces, measured and by the fitted law",
          .caption =
              fmt::format("{}, both through the same {:.3g} Hz window; points near standstill and reversals are left "
                          "out. Nameplate newtons.",
                          name, m.bandwidth_hz),
          .panels = {{.x = {"time", "s"}, .y = {"F_A + F_B", "N"}, .lines = {sum_law, sum}},
                     {.x = {"time", "s"}, .y = {"fight (F_A - F_B)/2", "N"}, .lines = {fight_law, fight}}}};
}

Finding no_plant(const Identified& id) {
  return {.id = "no_plant",
          .verdict = Verdict::attention,
          .text = "Settings, trips and forecasts have nothing to stand on: " + id.plant_reason + ".",
          .next =
              "Something moves or holds the bridge that is no force on record. Read station causes; look for "
              "cables, stops, brakes, wrong signs or scales; then record pushes and a move anew."};
}

}  // namespace

base::StationOutcome fit_station(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                                 const Identified& id) {
  base::StationOutcome out{.result = {.name = "fit"}};
  auto& findings = out.result.findings;
  if (!id.motion.done) {
    findings.push_back({.id = "no_fit",
                        .verdict = Verdict::not_done,
                        .text = "The machine's parameters are not known: " + id.motion.reason + ".",
                        .next = "Record a test move there and back with positions and outputs of both sides."});
    return out;
  }
  Values& values = out.result.values;
  put_masses(values, id);
  put_yaw(values, id);
  put_drives(values, id);
  put_friction_and_time(values, id);
  if (!id.plant_known) findings.push_back(no_plant(id));
  findings.push_back(quality(id.motion));
  findings.push_back(scale_finding(id));
  if (id.scale.gain) findings.push_back(gain_finding(*id.scale.gain));
  findings.push_back(strengths(id));
  if (!id.motion.switch_ons.empty()) findings.push_back(stress_free(id.motion));
  findings.push_back(response_fit(id));
  for (Finding& f : untold(values)) findings.push_back(std::move(f));
  const MotionRows rows = motion_rows(recordings, machine, id.motion.bandwidth_hz);
  add_validation(out.result, id,
                 leave_one_capture_out(rows, id.motion, recordings, id.grey.knowledge, machine.span_m));
  out.figures.push_back(forces_figure(recordings, rows, id.motion));
  out.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::identification
