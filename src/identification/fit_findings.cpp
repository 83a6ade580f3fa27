#include "identification/fit_findings.h"

#include <fmt/format.h>

#include <cmath>

namespace evenbeam::identification {
namespace {

using base::Finding;
using base::Verdict;
using math::Estimate;

constexpr double kCondition = 1e3;  // scaled; above it some unknowns cannot be told apart

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
      "One law for {} recording{}, seen through {:.3g} Hz, leaves {:.2g} N of the sum of forces unexplained in the "
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
      "to ±{:.2g} % instead of ±{:.2g} %, the moving mass to ±{:.2g} % instead of ±{:.2g} % (95 %).",
      g.test, 196 * g.spread, 196 * g.sd_after, 196 * g.sd_now, 196 * g.mass_after, 196 * g.mass_now);
  f.source = "inverse-variance mean with the test added, docs/equations.md";
  f.next =
      "Where that is worth it: loops closed with their integral parts, nobody in reach of what would move if the "
      "rope parts; creep by a few millimetres at 5 mm/s both ways, first free, then with the force along x at the "
      "side's own end; read that side's output and the force in each, the skew back where it was; [[force_test]] of "
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
        "then the same on B; both positions and both outputs, 1 kHz or faster, eight periods.";
    return f;
  }
  f.verdict = id.grey.within < 0.5 ? Verdict::pass : Verdict::attention;
  f.recording = id.response_recordings.front();
  f.text = fmt::format(
      "The plant follows the measured response at {} lines from {:.3g} to {:.3g} Hz; where it is lumped too coarsely "
      "it misses by {:.0f} % (root mean square over lines and entries).",
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

std::vector<Finding> untold(const FitValues& values) {
  std::string list;
  for (const auto& [key, value] : values)
    if (value.value.index() == 0) list += (list.empty() ? "" : ", ") + key;
  if (list.empty()) return {};
  return {{.id = "untold",
           .verdict = Verdict::attention,
           .text = "These recordings do not tell: " + list + ".",
           .next = "A multisine on each side and a test move at each end of the carriage's travel would tell."}};
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

std::vector<Finding> fit_findings(const Identified& id, const FitValues& values) {
  std::vector<Finding> out;
  if (!id.plant_known) out.push_back(no_plant(id));
  out.push_back(quality(id.motion));
  out.push_back(scale_finding(id));
  if (id.scale.gain) out.push_back(gain_finding(*id.scale.gain));
  out.push_back(strengths(id));
  if (!id.motion.switch_ons.empty()) out.push_back(stress_free(id.motion));
  out.push_back(response_fit(id));
  for (Finding& f : untold(values)) out.push_back(std::move(f));
  return out;
}

}  // namespace evenbeam::identification
