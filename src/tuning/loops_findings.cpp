#include "tuning/loops_findings.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

#include "tuning/loops_study.h"

namespace evenbeam::tuning {
namespace {

using base::Finding;
using base::Verdict;
using recording::Recording;

constexpr double kPromise = 1.7;

void cite(Finding& f, const identification::Identified& id) {
  const bool response = !id.response_recordings.empty();
  for (const auto& use : id.motion.recordings)
    if (f.recording.empty() || (response && use.name == id.response_recordings.front())) {
      f.recording = use.name;
      f.from_s = use.from_s;
      f.to_s = use.to_s;
    }
}

// Plants that the fit allows: what is proved of them, and the worst that was found.
std::string doubt_text(const Proofs& proofs) {
  const Certificate& c = proofs.doubt.certificate;
  const WorstFound& w = proofs.worst;
  std::string text =
      c.state == Certificate::State::proved
          ? fmt::format(
                " Proved for every plant within {:.0f} % of what the fit allows jointly at 95 %, there "
                "too: stable and at most {:.2f} ({} boxes).",
                100 * proofs.doubt.part, c.bound, c.boxes)
          : std::string(" Of what the fit allows around it nothing is proved.");
  if (std::isinf(w.sensitivity))
    return text + fmt::format(
                      " Of all that the fit allows jointly at 95 % not every plant is stable: one is not with the "
                      "carriage at {:.2f} m and {:.2f} kg. Fit better before trusting these gains.",
                      w.carriage_y_m, w.payload_kg);
  if (w.sensitivity > 0)
    text += fmt::format(
        " The worst found by search in all that the fit allows jointly at 95 %: {:.2f} at {:.0f} Hz, carriage at "
        "{:.2f} m and {:.2f} kg (searched, not proved).",
        w.sensitivity, w.hz, w.carriage_y_m, w.payload_kg);
  return text;
}

// What is proved, in a sentence; what is only searched is said.
std::string proof_text(const Proofs& proofs, const machine::Machine& machine) {
  const Certificate& c = proofs.fitted;
  const machine::CarriageRange range = machine::carriage_range(machine);
  const double full = std::max(machine.payload_min_kg, machine.payload_max_kg.value_or(0));
  if (c.state == Certificate::State::violated)
    return fmt::format("Not so everywhere: with the carriage at {:.4f} m and {:.2f} kg {} (at {:.1f} Hz).",
                       c.carriage_y_m, c.payload_kg, c.reason, c.hz);
  if (c.state != Certificate::State::proved)
    return fmt::format("Between the places looked at nothing is proved: {}.", c.reason);
  return fmt::format(
             "Proved for the plant as fitted, carriage {:.2f} to {:.2f} m, payload {:.3g} to {:.3g} kg, at every "
             "place between: stable and at most {:.2f} ({} boxes).",
             range.min_y_m, range.max_y_m, machine.payload_min_kg, full, c.bound, c.boxes) +
         doubt_text(proofs);
}

Finding robustness(const machine::Machine& machine, const identification::Identified& id, const LoopsReport& report) {
  const Proposal& p = report.proposal;
  Finding f{.id = "peak_sensitivity", .unit = "1", .limit = kPromise};
  cite(f, id);
  f.source = "at most 1.7 wanted; textbook range 1.2 to 2 (Astrom and Murray, from memory)";
  f.value = std::max(p.worst.peak, p.measured.peak);
  const double m = *f.value;
  const Certificate::State proof = report.proofs.fitted.state;
  f.verdict = m <= kPromise && proof != Certificate::State::violated ? Verdict::pass : Verdict::stop;
  f.text = fmt::format(
      "Over {} carriage places and payloads the largest singular value of the sensitivity is {:.2f} (at {:.0f} Hz) "
      "on the fitted plant{}: every side keeps a gain margin of at least {:.1f} and a phase margin of at least "
      "{:.0f} degrees. {}",
      p.cases.size(), p.worst.peak, p.worst.at_hz,
      p.measured.peak > 0 ? fmt::format(" and {:.2f} on the measured response", p.measured.peak)
                          : "; no response was measured",
      m / (m - 1), 2 * std::asin(1 / (2 * m)) * 180 / std::numbers::pi, proof_text(report.proofs, machine));
  if (std::isinf(report.proofs.worst.sensitivity)) {
    f.verdict = base::worse(f.verdict, Verdict::attention);
    f.next = "Record a longer or stronger multisine on A, then on B, and fit again before raising the gains.";
  }
  if (p.measured.peak == 0) {
    f.verdict = base::worse(f.verdict, Verdict::attention);
    f.next =
        "Record a multisine on A, then on B: without a measured response drive resonances are not in the margins.";
  }
  return f;
}

// The three ways a side may change, smallest over the places.
Finding margins_finding(const identification::Identified& id, const LoopsReport& r) {
  Finding f{.id = "margins", .verdict = Verdict::pass, .unit = "1"};
  cite(f, id);
  const PlaceMargins* both = &r.margins.front();
  double up = 1e300, phase = 1e300, drop = 0;
  bool down_side_a = true;
  for (const PlaceMargins& m : r.margins) {
    if (m.margins.both < both->margins.both) both = &m;
    for (bool a : {true, false}) {
      const math::LoopMargins& side = a ? m.margins.a : m.margins.b;
      up = std::min(up, side.gain_up), phase = std::min(phase, side.phase_rad);
      const double least = a ? m.margins.drop_a : m.margins.drop_b;
      if (std::isfinite(least) && least >= drop) drop = least, down_side_a = a;
    }
  }
  const math::DiskRange disk = math::disk_range(both->margins.both);
  f.value = both->margins.both;
  f.text = fmt::format(
      "One side alone may grow {:.2g} times or lag {:.0f} degrees more; both sides at once, each in its own way, may "
      "change by {:.2f} to {:.2f} times or {:.0f} degrees ({}). {}",
      up, phase * 180 / std::numbers::pi, disk.gain_low, disk.gain_high, disk.phase_rad * 180 / std::numbers::pi,
      both->where,
      drop > 0 ? fmt::format("Side {} alone may drop to {:.0f} % of its force.", down_side_a ? 'A' : 'B', 100 * drop)
               : std::string("Either side alone may drop to 1 % of its force and the loops stay stable."));
  f.source = "disk margins: Seiler, Packard, Gahinet, IEEE Control Systems 40(5), 2020; exact eigenvalues";
  f.next = "A side that loses force for good is station trips' matter.";
  return f;
}

Finding share_finding(const machine::Machine& machine, const identification::Identified& id, const Proposal& p,
                      const Forecasts& forecast) {
  const SharePlace &first = p.share.places.front(), &last = p.share.places.back();
  Finding f{.id = "share",
            .verdict = Verdict::pass,
            .value = p.share.follows ? p.settings.share : p.share.constant,
            .unit = "1"};
  cite(f, id);
  f.text = fmt::format(
      "The share of A that makes no yaw runs from {:.4f} (carriage at {:.2f} m) to {:.4f} (at {:.2f} m), in "
      "commanded newtons, without payload; the least wrong constant is {:.4f}, up to {:.4f} off.",
      first.share, first.y_m, last.share, last.y_m, p.share.constant, p.share.constant_wrong);
  double with_list = 0;
  for (const MoveForecast& m : forecast.proposed) with_list = std::max(with_list, m.peak_skew_m);
  if (p.share.follows && forecast.worst_constant_m > 0)
    f.text += fmt::format(
        " Largest skew to expect in the moves known: {:.1f} um with the share of each place, {:.1f} "
        "um with the constant.",
        1e6 * with_list, 1e6 * forecast.worst_constant_m);
  if (!forecast.place_errors.empty() && !forecast.proposed.empty()) {
    const double right = forecast.proposed.front().peak_skew_m;
    f.text += fmt::format(" How well its place must be known, {}: {:.1f} um where it is known", forecast.place_move,
                          1e6 * right);
    for (const PlaceError& e : forecast.place_errors)
      f.text += fmt::format(", {:.1f} um at {:.2g} m off", 1e6 * e.peak_skew_m, e.off_m);
    f.text += ".";
  }
  f.source = "balance of moments under acceleration, share = 1/2 - S/(M L)";
  if (p.share.follows && !machine.share_follows_carriage)
    f.next =
        "Enter the share of the place where the carriage stands, or let the controller follow it. If only one can be "
        "entered for all places, state share_follows_carriage = false.";
  return f;
}

std::string steps_text(const std::vector<GainStep>& steps) {
  std::string text = "Enter them in steps, each with the move and a hand on the stop:";
  for (const GainStep& g : steps) {
    text +=
        fmt::format(" {:.0f} % of both loops (velocity and position gains times {:.1f}, integral times over {:.1f})",
                    100 * g.part, g.part, g.part);
    if (!g.stable) return text + " is not stable: stop before it.";
    text += g.forecast.name.empty() ? ";"
                                    : fmt::format(", skew {:.1f} um to expect, stop above {:.1f};",
                                                  1e6 * g.forecast.peak_skew_m, 1e6 * g.forecast.upper_m);
  }
  text.back() = '.';
  return text;
}

Finding gains_finding(const identification::Identified& id, const LoopsReport& report) {
  const Proposal& p = report.proposal;
  Finding f{.id = "gains", .verdict = Verdict::pass};
  cite(f, id);
  f.text = fmt::format(
      "Gains by the symmetrical optimum with small lags of {:.2f} ms{}, stretched {:.1f} (mean) and {:.1f} times "
      "(skew) until the promise holds{}; what stops them from being higher: {}. With both loops' gains times 0.6 the "
      "peak sensitivity is {:.2f}, times 1.6 it is {:.2f}; stable at every place and payload looked at.",
      1e3 * p.small_lag_s,
      p.lag_factor > 1
          ? fmt::format(" ({:.0f} times what the lags themselves are, since a resonance asks for a slower "
                        "loop than any of theirs)",
                        p.lag_factor)
          : "",
      p.stretch_mean, p.stretch_skew,
      p.searched ? fmt::format(", then searched with two filters a loop: output noise from counts {:.1f} N rms",
                               p.after.noise_n)
                 : "; a search found nothing better that holds",
      p.binding, p.least_gain.peak, p.most_gain.peak);
  f.source = "Kessler 1958, symmetrical optimum (from memory)";
  f.value = p.stretch_mean;
  f.unit = "1";
  f.next = steps_text(report.gain_steps);
  return f;
}

Finding forecast_finding(const std::vector<Recording>& recordings, const Forecasts& f) {
  Finding out{.id = "forecast", .unit = "m"};
  if (f.proposed.empty()) {
    out.verdict = Verdict::attention;
    out.text = "No move is known to forecast: neither a recorded test move nor a [[move]] in machine.toml.";
    out.next = "Describe the machine's own moves in machine.toml.";
    return out;
  }
  const auto worst = std::max_element(f.proposed.begin(), f.proposed.end(),
                                      [](const auto& a, const auto& b) { return a.peak_skew_m < b.peak_skew_m; });
  out.verdict = Verdict::pass;
  out.value = worst->peak_skew_m;
  out.lower = worst->lower_m;
  out.upper = worst->upper_m;
  out.recording = worst->name;
  for (const Recording& r : recordings)
    if (r.name == worst->name) out.from_s = r.time_s.front(), out.to_s = r.time_s.back();
  out.text =
      fmt::format("With these settings the largest skew error to expect is {:.1f} um ({:.1f} to {:.1f}), in {}.",
                  1e6 * worst->peak_skew_m, 1e6 * worst->lower_m, 1e6 * worst->upper_m, worst->name);
  const std::string unsettled = why_unknown(worst->settle, worst->settle_window_m);
  out.text += unsettled.empty() ? fmt::format(" It settles within {:.3g} um in at most {:.3g} s.",
                                              1e6 * worst->settle_window_m, worst->settle.longest_s)
                                : " How soon it settles is unknown: " + unsettled + ".";
  out.text += fmt::format(
      " Mean error at most {:.1f} um ({:.1f} to {:.1f}), force {:.0f} % of peak ({:.0f} to {:.0f}), moment on the "
      "guides {:.3g} N m (up to {:.3g} where friction held the bridge askew when the loops were closed).",
      1e6 * worst->peak_mean_error_m, 1e6 * worst->mean_error_m.lower, 1e6 * worst->mean_error_m.upper,
      100 * worst->peak_force_part, 100 * worst->force_part.lower, 100 * worst->force_part.upper,
      worst->peak_guide_moment_n_m, worst->guide_moment_n_m.upper);
  out.source =
      "virtual gantry with the fitted plant and with plants of its joint doubt (docs/loops.md, \"Bands\"); cogging "
      "and pitch errors are not in it";
  out.next = "Make the move with these settings and record it; station prove compares.";
  return out;
}

// Where a side may run out of force the forecast is no longer the loops' own: a clipped side skews the bridge.
std::optional<Finding> force_finding(const Forecasts& f, const machine::Settings& s) {
  constexpr double kInHand = 0.1;  // of peak force (common practice, no source)
  const auto worst = std::max_element(f.proposed.begin(), f.proposed.end(), [](const auto& a, const auto& b) {
    return a.force_part.upper < b.force_part.upper;
  });
  if (worst == f.proposed.end() || worst->force_part.upper < 1) return std::nullopt;
  Finding out{.id = "force_headroom", .verdict = Verdict::attention, .value = worst->peak_force_part, .unit = "1"};
  out.lower = worst->force_part.lower, out.upper = worst->force_part.upper, out.limit = 1;
  out.recording = worst->name;
  out.text = fmt::format(
      "Force headroom binds in {}: {:.0f} % of a side's peak force to expect ({:.0f} to {:.0f}). A side that clips "
      "skews the bridge, whatever the gains.",
      worst->name, 100 * worst->peak_force_part, 100 * worst->force_part.lower, 100 * worst->force_part.upper);
  out.source = "forecast with plants of the fit's joint doubt; a tenth in hand is common practice, no source";
  const double friction = std::max(s.coulomb_ff_a_n / s.peak_force_a_n, s.coulomb_ff_b_n / s.peak_force_b_n);
  const double factor = (1 - kInHand - friction) / (worst->peak_force_part - friction);
  out.next = factor > 0 && factor < 1
                 ? fmt::format("Nearest move with a tenth in hand: acceleration times about {:.2f}.", factor)
                 : std::string("Move less mass, or ask a lower acceleration.");
  return out;
}

}  // namespace

Finding no_settings_finding(const identification::Identified& id, const Proposal& p) {
  Finding f{.id = "no_settings",
            .verdict = id.plant_known ? Verdict::attention : Verdict::not_done,
            .text = "No settings are proposed: " + p.reason + ".",
            .next = id.plant_known ? "State what is missing, or stiffen what resonates."
                                   : "Record a test move there and back with positions and outputs."};
  cite(f, id);
  return f;
}

std::vector<Finding> loops_findings(const std::vector<Recording>& recordings, const machine::Machine& machine,
                                    const identification::Identified& id, const LoopsReport& report) {
  std::vector<Finding> out{robustness(machine, id, report), margins_finding(id, report),
                           share_finding(machine, id, report.proposal, report.forecasts), gains_finding(id, report),
                           forecast_finding(recordings, report.forecasts)};
  if (auto force = force_finding(report.forecasts, report.proposal.settings)) out.push_back(std::move(*force));
  for (Finding& f : study_findings(report)) out.push_back(std::move(f));
  return out;
}

}  // namespace evenbeam::tuning
