#include "acceptance/prove_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

namespace evenbeam::acceptance {

namespace {

using base::Finding;
using base::Verdict;

constexpr double fight_part = 0.2;          // of continuous force (proposal of the field, no source)
constexpr double fight_part_of_peak = 0.1;  // where no continuous force is stated (common practice, no source)

std::string um(double length_m) { return fmt::format("{:.1f} um", length_m * 1e6); }

Finding start(const JudgedMove& move, const char* id) {
  Finding f{.id = std::string(id) + "_" + slug(move.recording->name), .recording = move.recording->name};
  if (!move.recording->time_s.empty()) {
    f.from_s = move.recording->time_s.front();
    f.to_s = move.recording->time_s.back();
  }
  return f;
}

std::string where(const JudgedMove& move) {
  std::string text;
  if (move.recording->carriage_y_m) text += fmt::format("carriage at y = {:.2f} m", *move.recording->carriage_y_m);
  if (move.recording->payload_kg)
    text += fmt::format("{}{:.0f} kg payload", text.empty() ? "" : ", ", *move.recording->payload_kg);
  return text.empty() ? "" : " (" + text + ")";
}

// The conditions that a coordinate's loop breaks, joined; empty where all hold or none could be judged.
std::string broken(const std::optional<LoopJudgement>& loop) {
  std::string text;
  if (!loop) return text;
  for (const Condition& c : loop->conditions)
    if (!c.holds) text += (text.empty() ? "" : "; ") + c.name + ": " + c.text;
  return text;
}

std::string predicted(const std::optional<LoopJudgement>& loop) {
  if (!loop || !loop->ringing_hz) return "";
  return fmt::format(" On a rigid mass these gains give {:.2f} Hz with damping {:.2f}.", *loop->ringing_hz,
                     *loop->damping);
}

const char* remedy =
    "Set the loops anew (station loops): velocity gain first, then integral time, then position gain.";

Finding ringing_finding(const JudgedMove& move, const MoveRinging& r) {
  Finding f = start(move, fmt::format("ringing_{}_{}", r.coordinate, to_text(r.phase)).c_str());
  f.verdict = Verdict::attention;
  f.value = r.hz;
  f.unit = "Hz";
  f.from_s = r.from_s;
  f.to_s = r.to_s;
  const auto& loop = r.coordinate == "mean" ? move.mean_loop : move.skew_loop;
  f.text = fmt::format("The {} rings at {:.2f} Hz in {} ({} of {} stretches), amplitude {} with damping {:.2f}{}",
                       r.coordinate, r.hz, to_text(r.phase), r.agreeing, r.looked_at, um(r.strongest.amplitude_m),
                       r.strongest.damping, r.strongest.decay_per_s < 0 ? ", growing." : ".");
  const std::string why = broken(loop);
  if (!why.empty())
    f.text += " Its loop breaks " + why + "." + predicted(loop);
  else if (loop)
    f.text +=
        " Its loop meets the textbook conditions on a rigid mass, so look for a resonance or play." + predicted(loop);
  else
    f.text += " Which condition of its loop is broken cannot be told: the gains or the inertia are not known.";
  f.source =
      "damped oscillation fitted to the error (acceptance/ringing.h); conditions: Routh, cascade damping 0.7, "
      "symmetrical optimum with a = 2 (Kessler, from memory)";
  f.next = loop ? remedy : "State this recording's loops in recordings.toml and run the fit.";
  return f;
}

// Conditions broken and damping poor, though this record does not show the ringing clearly.
void add_quiet_loop(const JudgedMove& move, const char* coordinate, const std::optional<LoopJudgement>& loop,
                    std::vector<Finding>& out) {
  constexpr double poor_damping = 0.3;
  const std::string why = broken(loop);
  if (why.empty() || !loop->damping || *loop->damping >= poor_damping) return;
  for (const MoveRinging& r : move.ringing)
    if (r.coordinate == coordinate) return;
  Finding f = start(move, fmt::format("loop_{}", coordinate).c_str());
  f.verdict = Verdict::attention;
  f.value = loop->damping;
  f.unit = "1";
  f.limit = poor_damping;
  f.text = fmt::format("The {} loop breaks {}.{}", coordinate, why, predicted(loop));
  f.source =
      "derived: roots of the loop on a rigid mass (acceptance/loop_conditions.h); symmetrical optimum: Kessler, "
      "from memory";
  f.next = remedy;
  out.push_back(f);
}

Finding saturation_finding(const JudgedMove& move) {
  const MoveMeasures& m = move.measures;
  Finding f = start(move, "force_use");
  const double saturated = std::max(m.force_a->saturated, m.force_b->saturated);
  const double peak = std::max(*m.force_a->peak, *m.force_b->peak);
  f.verdict = saturated > 0 ? Verdict::attention : Verdict::pass;
  f.value = peak;
  f.unit = "1";
  f.limit = 1.0;
  f.source = "nameplate peak force";
  f.text = fmt::format("Peak force A {:.0f} %, B {:.0f} % of nameplate; RMS A {:.1f} %, B {:.1f} %",
                       100 * *m.force_a->peak, 100 * *m.force_b->peak, 100 * *m.force_a->rms, 100 * *m.force_b->rms);
  f.text += saturated > 0 ? fmt::format("; at its limit for {:.2f} % of the time.", 100 * saturated) : ".";
  if (saturated > 0) f.next = "Lower the acceleration, or give the loaded side its share (station loops).";
  return f;
}

Finding thermal_finding(const JudgedMove& move, double continuous_a_n, double continuous_b_n) {
  const MoveMeasures& m = move.measures;
  Finding f = start(move, "thermal");
  const double use_a = m.force_a->rms_n / continuous_a_n, use_b = m.force_b->rms_n / continuous_b_n;
  f.value = std::max(use_a, use_b);
  f.unit = "1";
  f.limit = 1.0;
  f.verdict = *f.value > 1 ? Verdict::attention : Verdict::pass;
  f.text = fmt::format("RMS force against continuous force: A {:.0f} %, B {:.0f} %, for the duty of this record.",
                       100 * use_a, 100 * use_b);
  f.source = "nameplate continuous force; RMS over the whole record, its rests included";
  if (*f.value > 1) f.next = "Longer rests or less acceleration, unless this duty is not the process's.";
  return f;
}

Finding fight_finding(const JudgedMove& move, const machine::Machine& machine) {
  const MoveMeasures& m = move.measures;
  Finding f = start(move, "standing_fight");
  f.from_s = move.recording->time_s[m.fight_from];
  f.to_s = move.recording->time_s[m.fight_to - 1];
  f.value = m.standing_fight_n;
  f.unit = "N";
  const auto& a = machine.a;
  const auto& b = machine.b;
  if (a.continuous_force_n && b.continuous_force_n) {
    f.limit = fight_part * std::min(*a.continuous_force_n, *b.continuous_force_n);
    f.source = "20 % of continuous force (proposal, no source)";
  } else if (a.peak_force_n && b.peak_force_n) {
    f.limit = fight_part_of_peak * std::min(*a.peak_force_n, *b.peak_force_n);
    f.source = "10 % of peak force, as no continuous force is stated (common practice, no source)";
  }
  const double fight = *m.standing_fight_n;
  f.verdict = f.limit && std::abs(fight) > *f.limit ? Verdict::attention : Verdict::pass;
  f.text = fmt::format("At rest the sides press against each other with {:.0f} N{}.", std::abs(fight),
                       fight >= 0 ? ", A forward" : ", B forward");
  if (f.verdict == Verdict::attention)
    f.next = "Compare with the stress-free skew (station marks) and each side's friction (station causes).";
  return f;
}

}  // namespace

std::string slug(const std::string& name) {
  std::string out;
  for (const char c : name.substr(0, name.rfind('.')))
    out += std::isalnum(static_cast<unsigned char>(c)) ? char(std::tolower(static_cast<unsigned char>(c))) : '_';
  return out;
}

Finding skew_finding(const JudgedMove& move, const machine::Machine& machine, const ProveInput& input) {
  const MoveMeasures& m = move.measures;
  Finding f = start(move, "dynamic_skew");
  f.value = m.skew.peak;
  f.lower = std::max(0.0, m.skew.peak - m.peak_doubt_m);
  f.upper = m.skew.peak + m.peak_doubt_m;
  f.unit = "m";
  f.verdict = Verdict::pass;
  const Phase phase = m.phases.of_sample[m.skew.at];
  f.text = fmt::format("Peak skew error {} in {} at {:.3f} s, RMS {}{}.", um(m.skew.peak), to_text(phase),
                       move.recording->time_s[m.skew.at], um(m.skew.rms), where(move));
  if (machine.limits.skew_goal_m) {
    f.limit = machine.limits.skew_goal_m;
    f.source = "machine description: skew goal of the process";
    if (m.skew.peak > *f.limit) {
      f.verdict = Verdict::attention;
      f.text += fmt::format(" The process takes {}.", um(*f.limit));
      f.next = "Share by carriage position and friction feed-forward first (station loops), then stiffer skew loop.";
    }
  } else {
    f.source = "no skew goal is stated";
    f.next = "State skew_goal in machine.toml, so that this number can be judged.";
  }
  if (input.allowable_skew_m && m.skew.peak > *input.allowable_skew_m) {
    f.verdict = Verdict::stop;
    f.limit = input.allowable_skew_m;
    f.source = "station limits: allowable skew";
    f.next = "Do not repeat this move: it overloads the guides. Slow down and find the cause first.";
  }
  return f;
}

Finding settling_finding(const JudgedMove& move, const SettleWindow& window) {
  const MoveMeasures& m = move.measures;
  Finding f = start(move, "settling");
  f.unit = "s";
  f.source = window.source;
  if (m.settlings.empty()) {
    f.text = "No stop of the reference is seen in this record, so settling is unknown.";
    f.next = "Record until at least 0.5 s after a stop.";
    return f;
  }
  f.from_s = m.settlings.front().stop_s;
  if (m.settle_s) {
    f.verdict = Verdict::pass;
    f.value = m.settle_s;
    f.text = fmt::format("Mean and skew settle into +-{} within {:.0f} ms after every one of {} stops.",
                         um(window.half_m), 1e3 * *m.settle_s, m.settlings.size());
    return f;
  }
  f.verdict = Verdict::attention;
  double mean_left = 0, skew_left = 0;
  for (const Settling& s : m.settlings) {
    mean_left = std::max(mean_left, s.mean_left_m);
    skew_left = std::max(skew_left, s.skew_left_m);
  }
  f.lower = m.settle_at_least_s;
  f.text = fmt::format(
      "Not settled into +-{} within the {:.2f} s watched after a stop: up to {} of mean and {} of skew error "
      "are left. The settling time is longer and unknown.",
      um(window.half_m), m.settle_at_least_s, um(mean_left), um(skew_left));
  if (m.settle_skew_s) f.text += fmt::format(" The skew alone settles within {:.0f} ms.", 1e3 * *m.settle_skew_s);
  if (m.settle_mean_s) f.text += fmt::format(" The mean alone settles within {:.0f} ms.", 1e3 * *m.settle_mean_s);
  f.next = "Record a longer rest, or shorten the integral time where the loops allow it (station loops).";
  return f;
}

std::vector<Finding> loop_findings(const JudgedMove& move) {
  std::vector<Finding> out;
  for (const MoveRinging& r : move.ringing) out.push_back(ringing_finding(move, r));
  add_quiet_loop(move, "mean", move.mean_loop, out);
  add_quiet_loop(move, "skew", move.skew_loop, out);
  return out;
}

std::vector<Finding> force_findings(const JudgedMove& move, const machine::Machine& machine) {
  std::vector<Finding> out;
  const MoveMeasures& m = move.measures;
  if (m.force_a && m.force_b && m.force_a->peak && m.force_b->peak) out.push_back(saturation_finding(move));
  if (m.force_a && m.force_b && machine.a.continuous_force_n && machine.b.continuous_force_n)
    out.push_back(thermal_finding(move, *machine.a.continuous_force_n, *machine.b.continuous_force_n));
  if (m.standing_fight_n) out.push_back(fight_finding(move, machine));
  return out;
}

std::vector<Finding> forecast_findings(const JudgedMove& move) {
  if (!move.forecast) return {};
  const MoveMeasures& m = move.measures;
  const MoveForecast& forecast = *move.forecast;
  Finding f = start(move, "forecast");
  const double counts = 3 * m.peak_doubt_m;  // three counts of the two sides' mean
  const double allowed = std::max(0.15 * m.skew.peak, counts);
  const bool in_band =
      m.skew.peak >= forecast.lower_m - m.peak_doubt_m && m.skew.peak <= forecast.upper_m + m.peak_doubt_m;
  const bool near = std::abs(forecast.peak_skew_m - m.skew.peak) <= allowed;
  f.value = forecast.peak_skew_m;
  f.lower = forecast.lower_m;
  f.upper = forecast.upper_m;
  f.unit = "m";
  f.limit = m.skew.peak;
  f.verdict = in_band || near ? Verdict::pass : Verdict::attention;
  f.text = fmt::format("Forecast peak skew {} ({} to {}), measured {}: {:+.0f} %.", um(forecast.peak_skew_m),
                       um(forecast.lower_m), um(forecast.upper_m), um(m.skew.peak),
                       100 * (forecast.peak_skew_m / m.skew.peak - 1));
  f.source = "forecast from the fit under this recording's loops; held to 15 % or three counts";
  if (f.verdict == Verdict::attention)
    f.next = "The model misses something this move does: do not trust forecasts of new settings before it is found.";
  return {f};
}

Finding comparison_finding(const std::vector<JudgedMove>& moves) {
  const auto by_peak = [](const JudgedMove& a, const JudgedMove& b) {
    return a.measures.skew.peak < b.measures.skew.peak;
  };
  const auto [best, worst] = std::minmax_element(moves.begin(), moves.end(), by_peak);
  Finding f{.id = "comparison", .verdict = Verdict::pass};
  f.value = worst->measures.skew.peak / best->measures.skew.peak;
  f.unit = "1";
  f.recording = worst->recording->name;
  f.text =
      fmt::format("Least peak skew {} in {}{}, most {} in {}{}.", um(best->measures.skew.peak), best->recording->name,
                  where(*best), um(worst->measures.skew.peak), worst->recording->name, where(*worst));
  f.source = "peak skew error of each move";
  return f;
}

}  // namespace evenbeam::acceptance
