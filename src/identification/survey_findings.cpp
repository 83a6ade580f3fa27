#include "identification/survey_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "math/median.h"

namespace evenbeam::identification {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kPapers = 0.1;     // mass this far from the papers asks for a look
constexpr double kTold = 0.5;       // part of the knowledge that must come from the recordings
constexpr double kCoherence = 0.9;  // median over the lines: below it the forces explain part of the motion only
// Below it they explain too little, however well the model follows (common practice, no source).
constexpr double kPoorCoherence = 0.75;
constexpr double kWithin = 0.1;  // |model - measured| / |measured| of the four entries together, typical line
const char* const kPractice = "common practice, no source";

// The recording that gave the fit most of its rows.
void cite_fit(Finding& f, const MotionFit& motion) {
  const auto most = std::max_element(motion.recordings.begin(), motion.recordings.end(),
                                     [](const auto& a, const auto& b) { return a.rows < b.rows; });
  if (most == motion.recordings.end()) return;
  f.recording = most->name;
  f.from_s = most->from_s;
  f.to_s = most->to_s;
}

void cite_response(Finding& f, const std::vector<recording::Recording>& recordings) {
  for (const recording::Recording& r : recordings) {
    if (r.kind != recording::RunKind::multisine || r.time_s.empty()) continue;
    f.recording = r.name;
    f.from_s = r.time_s.front();
    f.to_s = r.time_s.back();
    return;
  }
}

const char* const excite_next =
    "Loops closed and soft, bridge in slow even motion: add a periodic excitation to the output of A, then of B, "
    "several periods each; record both positions and both outputs at the servo's own rate.";

Finding rigid_yaw_finding(const SurveyInput& input) {
  const MotionFit& m = input.motion;
  Finding f{.id = "modes", .unit = "Hz", .next = excite_next};
  f.text = "The modes are not known: " + input.grey.reason + ".";
  const double inertia = m.inertia_kg_m2.value - m.moment_kg_m.value * m.moment_kg_m.value / m.mass_kg.value;
  const math::Estimate& k = m.yaw_stiffness_n_m_per_rad;
  if (!(inertia > 0) || !(k.lower > 0) || k.from_data < kTold) return f;
  cite_fit(f, m);
  f.value = std::sqrt(k.value / inertia) / (2 * std::numbers::pi);
  f.source = "yaw stiffness and inertia of the motion fit on rigid drives (derived)";
  f.text += fmt::format(
      " From stiffness and inertia the bridge on rigid drives would yaw at {:.1f} Hz; elastic drives "
      "change that, so it is no measured mode.",
      *f.value);
  return f;
}

// A line: root of the sum over the four entries of |model - measured|^2, over that of |measured|^2. Single entries
// would count a small error beside an antiresonance as a large one.
std::vector<double> model_misses(const GreyFit& grey) {
  std::vector<double> out;
  for (std::size_t i = 0; i < grey.hz.size(); ++i) {
    double miss = 0, size = 0;
    for (std::size_t k = 0; k < 4; ++k) {
      miss += std::norm(grey.modelled[i][k] - grey.measured[i][k]);
      size += std::norm(grey.measured[i][k]);
    }
    out.push_back(std::sqrt(miss / size));
  }
  return out;
}

}  // namespace

Finding mass_finding(const math::Estimate& mass, const machine::Machine& machine, const SurveyInput& input) {
  Finding f{.id = "moving_mass",
            .verdict = Verdict::pass,
            .value = mass.value,
            .unit = "kg",
            .lower = mass.lower,
            .upper = mass.upper};
  cite_fit(f, input.motion);
  const char* const newtons = input.force_scale ? "" : ", if the drives give the newtons of their nameplate";
  f.text = fmt::format("{:.1f} kg move along x without payload ({:.1f} to {:.1f}, from {} recordings){}", mass.value,
                       mass.lower, mass.upper, input.motion.recordings.size(), newtons);
  if (mass.from_data < kTold) {
    f.verdict = Verdict::not_done;
    f.text += ", but that rests on the papers more than on the recordings.";
    f.next = "Record moves with clear acceleration and both outputs.";
    return f;
  }
  const auto papers = machine::nameplate_mass_kg(machine, 0);
  if (!papers) {
    f.text += ". The papers do not give all parts to compare with.";
    f.source = "motion fit";
    f.next = "State the masses of bridge, ends, carriage and drives in machine.toml to have them checked.";
    return f;
  }
  f.limit = *papers;
  f.source =
      fmt::format("sum of the papers; apart by more than {:.0f} % asks for a look ({})", 100 * kPapers, kPractice);
  f.text += fmt::format("; the papers add up to {:.0f} kg ({:+.1f} %).", *papers, 100 * (mass.value / *papers - 1));
  if (mass.lower > (1 + kPapers) * *papers || mass.upper < (1 - kPapers) * *papers) {
    f.verdict = Verdict::attention;
    f.text += input.force_scale
                  ? " A part is missing from the papers, or a rotor inertia or lead is wrong in them."
                  : " Either the papers' masses are wrong, or the drives' force differs from the nameplate.";
    f.next =
        input.force_scale
            ? "Go through the parts: rotor, coupling and screw inertia at the right lead, cable carrier, tooling."
            : "Weigh a known payload onto the carriage and repeat a test move: that gives the force scale.";
  }
  return f;
}

Finding carriage_finding(const MotionFit& motion) {
  const math::Estimate& m = motion.carriage_mass_kg;
  Finding f{.id = "carriage_mass",
            .verdict = Verdict::pass,
            .value = m.value,
            .unit = "kg",
            .lower = m.lower,
            .upper = m.upper,
            .source = "motion fit, nameplate newtons"};
  cite_fit(f, motion);
  f.text = fmt::format(
      "The carriage moves like {:.1f} kg ({:.1f} to {:.1f}); {:.0f} % of that knowledge is from the "
      "recordings, the rest from the papers.",
      m.value, m.lower, m.upper, 100 * m.from_data);
  if (m.from_data >= kTold) return f;
  f.verdict = Verdict::not_done;
  f.next = "Repeat one test move with the carriage at the other end of its travel, and note both places.";
  return f;
}

Finding share_finding(const std::vector<SharePlace>& places, const machine::Machine& machine,
                      const MotionFit& motion) {
  const SharePlace &first = places.front(), &last = places.back();
  const double slope = (last.share.value - first.share.value) / (last.y_m - first.y_m);
  Finding f{.id = "share_slope", .verdict = Verdict::pass, .value = slope, .unit = "1/m"};
  cite_fit(f, motion);
  f.source = "share that makes no yaw, 1/2 - S/(M L), real newtons (derived)";
  f.text = fmt::format(
      "A's share of the force goes from {:.3f} with the carriage at y = {:.2f} m to {:.3f} at {:.2f} m, "
      "{:.1f} % a metre",
      first.share.value, first.y_m, last.share.value, last.y_m, 100 * slope);
  if (first.papers && last.papers) {
    const double by_papers = (*last.papers - *first.papers) / (last.y_m - first.y_m);
    f.limit = by_papers;
    f.text += fmt::format(" (papers {:.3f} to {:.3f}, {:.1f} %)", *first.papers, *last.papers, 100 * by_papers);
  }
  f.text += ".";
  if (machine::carriage_range(machine).assumed) f.text += " The carriage's travel is assumed, not stated.";
  if (!motion.carriage_known) {
    f.verdict = Verdict::not_done;
    f.text += " Where the carriage stood was not stated, so the places are relative to it.";
    f.next = "State carriage_y of each recording in recordings.toml.";
  } else if (motion.carriage_mass_kg.from_data < kTold) {
    f.text += " The slope rests on the papers' carriage mass.";
    f.next = "Repeat one test move with the carriage at the other end of its travel.";
  } else if (!machine.share_follows_carriage) {
    f.next =
        "Let the share follow the carriage where the controller can; otherwise station loops weighs one for all.";
  }
  return f;
}

Finding budget_finding(const std::optional<ForceBudget>& budget, const machine::Machine& machine,
                       const MotionFit& motion) {
  Finding f{.id = "force_budget", .unit = "1"};
  cite_fit(f, motion);
  f.source = fmt::format("nameplate peak force; {:.0f} % kept for control ({})", 100 * force_reserve, kPractice);
  if (!budget) {
    f.text = "Whether the drives are strong enough is not known: a peak force is not stated.";
    f.next = "State peak_force of both sides in machine.toml.";
    return f;
  }
  f.value = budget->use;
  f.limit = 1 - force_reserve;
  const std::string where = fmt::format("carriage at y = {:.2f} m, {:.0f} kg payload, side {}", budget->y_m,
                                        budget->payload_kg, budget->side_a ? "A" : "B");
  if (!budget->stated) {
    f.verdict = Verdict::pass;
    f.text = fmt::format(
        "No acceleration is stated. The drives can give {:.1f} m/s2 and keep {:.0f} % of their peak "
        "({}).",
        budget->acceleration_m_per_s2, 100 * force_reserve, where);
    f.next = "State the acceleration the process needs (machine.toml, section limits).";
    if (budget->acceleration_m_per_s2 > 0) return f;
    f.verdict = Verdict::attention;
    f.text = "Friction alone takes the drives' peak force but for the reserve (" + where + ").";
    f.next = "Look for a held brake or tight guides before anything else.";
    return f;
  }
  f.verdict = budget->use > 1 - force_reserve ? Verdict::attention : Verdict::pass;
  f.text = fmt::format("{:.1f} m/s2 and friction take {:.0f} N of {:.0f} N, {:.0f} % of peak, in the worst case ({})",
                       budget->acceleration_m_per_s2, budget->needed_n, budget->peak_n, 100 * budget->use, where);
  f.text += machine.limits.speed_m_per_s ? "." : "; viscous friction left out, since no speed is stated.";
  if (budget->use > 1) f.text += " The drives cannot give that.";
  if (f.verdict == Verdict::attention) f.next = "Lower the acceleration, or the payload at the ends of the travel.";
  return f;
}

std::vector<Finding> mode_findings(const std::vector<SurveyMode>& modes, const SurveyInput& input,
                                   const std::vector<recording::Recording>& recordings) {
  if (!input.grey.done) return {rigid_yaw_finding(input)};
  std::vector<Finding> out;
  for (const SurveyMode& mode : modes) {
    Finding f{.id = fmt::format("mode_{}", out.size() + 1), .value = mode.hz, .unit = "Hz"};
    f.verdict = mode.seen ? Verdict::pass : Verdict::not_done;
    cite_response(f, recordings);
    const MeasuredMode& m = mode.measured;
    if (m.read) {
      f.lower = m.hz.lower, f.upper = m.hz.upper;
      f.source = "a fit of the measured response about it, carriage where it stood; named by the fitted plant";
      f.text = fmt::format(
          "At {:.2f} Hz ({:.2f} to {:.2f}; damping {:.4f}, {:.4f} to {:.4f}) {}. Feedback moves as A {:.2f} to B "
          "{:.2f} (within {:.2g}).",
          mode.hz, m.hz.lower, m.hz.upper, mode.damping, std::max(0.0, m.damping.lower), m.damping.upper, mode.words,
          m.shape_a, m.shape_b, m.shape_half_width);
    } else {
      f.source = "eigenvalues of the fitted plant, loops open, carriage where it stood";
      f.text = fmt::format("At {:.1f} Hz (damping {:.3f}) {}.", mode.hz, mode.damping, mode.words);
    }
    if (mode.seen && !m.read) {
      f.text += fmt::format(" By the fitted plant alone, without an interval: {}.", m.why_not);
      f.next = "A longer excitation period (4 s for 2 s) puts twice the lines about it.";
    }
    if (!mode.seen) {
      f.text += fmt::format(" The model puts it there; the measured lines ({:.0f} to {:.0f} Hz) do not reach it.",
                            input.grey.hz.front(), input.grey.hz.back());
      f.next = "Excite up to twice that frequency if the loops are to be fast; otherwise leave it.";
    }
    out.push_back(f);
  }
  return out;
}

Finding response_finding(const SurveyInput& input, const std::vector<recording::Recording>& recordings) {
  Finding f{.id = "response", .unit = "1"};
  if (!input.grey.done) {
    f.text = "There is no response of the sides to hold a model against: " + input.grey.reason + ".";
    f.next = excite_next;
    return f;
  }
  cite_response(f, recordings);
  const std::vector<double> misses = model_misses(input.grey);
  const auto worst = std::max_element(misses.begin(), misses.end());
  f.value = math::median(misses);
  f.limit = kWithin;
  f.source = fmt::format("limits {}", kPractice);
  f.verdict = *f.value > kWithin ? Verdict::attention : Verdict::pass;
  f.text = fmt::format(
      "The model follows the measured response of the sides within {:.0f} % at a typical line ({} lines, {:.0f} to "
      "{:.0f} Hz); it misses most at {:.0f} Hz, by {:.0f} %.",
      100 * *f.value, misses.size(), input.grey.hz.front(), input.grey.hz.back(),
      input.grey.hz[static_cast<std::size_t>(worst - misses.begin())], 100 * *worst);
  if (f.verdict == Verdict::attention)
    f.next = "Look at the figure: a resonance that the model lacks needs its own notch and its own cause.";
  if (!input.response || input.response->coherence.empty()) return f;
  std::vector<double> a, b;
  for (const auto& line : input.response->coherence) a.push_back(line[0]), b.push_back(line[1]);
  const double median_a = math::median(a), median_b = math::median(b);
  f.text += fmt::format(" Median coherence A {:.3f}, B {:.3f}.", median_a, median_b);
  const double least = std::min(median_a, median_b);
  if (least >= kCoherence) return f;
  if (least >= kPoorCoherence &&
      f.verdict == Verdict::pass) {  // quiet lines cost certainty, which the intervals show; the model stands
    f.text += " The forces explain part of the motion only, and yet the model follows it.";
  } else {
    f.verdict = Verdict::attention;
    f.text += " The forces explain too little of the motion: weak excitation, play or stiction.";
    f.next = "Excite stronger, or for more periods, in even slow motion.";
  }
  return f;
}

}  // namespace evenbeam::identification
