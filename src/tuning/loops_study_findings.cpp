#include <fmt/format.h>

#include "tuning/loops_study.h"

namespace evenbeam::tuning {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kPromise = 1.7;

Finding structure_finding(const LoopsReport& r) {
  Finding f{.id = "structure", .verdict = Verdict::pass, .unit = "m", .recording = r.studied_move};
  f.text = fmt::format(
      "All at a peak sensitivity of at most {:.1f}, first stroke of {}, peak skew bare and with share and "
      "friction feed-forward:",
      kPromise - 0.1, r.studied_move);
  for (const StructureResult& s : r.structures) {
    f.text += s.found ? fmt::format(" {} {:.1f} and {:.1f} um,", name_of(s.structure), 1e6 * s.bare.peak_skew_m,
                                    1e6 * s.informed.peak_skew_m)
                      : fmt::format(" {}: no gains meet it,", name_of(s.structure));
    if (s.found && s.structure == servo::Structure::mean_skew) f.value = s.informed.peak_skew_m;
  }
  f.text.back() = '.';
  f.source = "the same textbook rule for each, stretched until each keeps the same promise";
  f.next = "Share and friction feed-forward first; a change of structure where the table says so.";
  return f;
}

Finding explanation_finding(const LoopsReport& r) {
  const Explanation& e = r.explanation;
  Finding f{
      .id = "explanation", .verdict = Verdict::pass, .value = e.limit.hz, .unit = "Hz", .recording = r.studied_move};
  f.text = fmt::format("What limits the gains lies at {:.0f} Hz", e.limit.hz);
  f.text += e.limit.mode_hz > 0 ? fmt::format(", near the mode at {:.0f} Hz ({}){}.", e.limit.mode_hz, e.limit.mode,
                                              e.limit.part.empty() ? "" : ", which " + e.limit.part + " moves most")
                                : ", near no mode of the plant: it is delay and lag.";
  if (!e.changes.empty()) {
    const MechanicalChange& best = e.changes.front();
    f.text += fmt::format(" Mechanical change that would help most: {}: skew {:+.0f} % at the same robustness.",
                          best.change, 100 * (best.peak_skew_m / e.textbook_peak_skew_m - 1));
  }
  if (!e.costs.empty()) {
    const SettingCost& dear = e.costs.front();
    f.text += fmt::format(
        " Most sensitive setting: {}; 20 % less gives {:.1f} um, 20 % more {:.1f} um ({:.1f} um as proposed).",
        dear.setting, 1e6 * dear.less_peak_skew_m, 1e6 * dear.more_peak_skew_m, 1e6 * e.peak_skew_m);
  }
  f.source =
      "forecast of the first stroke with the fitted plant, without counts; each change re-scaled to the same promise";
  f.next = "All of them are in the values setting_costs and mechanical_changes.";
  return f;
}

Finding fight_finding(const LoopsReport& r) {
  const Fight& t = r.fight;
  Finding f{.id = "fight", .value = t.with_integral_n, .unit = "N", .limit = t.allowed_n};
  f.verdict = t.with_integral_n <= t.allowed_n ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "Integrators on both sides hold whatever skew they are told against the guides, with {:.2g} N on each side for "
      "every "
      "10 um, whatever the gains. The stress-free skew is known to {:.1f} um: a standing fight of up to {:.0f} N; "
      "without the "
      "skew loop's integral it would be {:.0f} N.",
      1e-5 * t.stiffness_n_per_m, 1e6 * t.doubt_m, t.with_integral_n, t.without_integral_n);
  f.source = "d = (K_th/L^2)(s - s_free); a tenth of continuous force allowed (common practice, no source)";
  f.next = f.verdict == Verdict::pass
               ? "Give the skew reference in the scale where the guides are stress-free (station marks)."
               : "Find the stress-free skew better (station marks), or leave out the skew loop's integral.";
  return f;
}

Finding learning_finding(const LoopsReport& r) {
  Finding f{.id = "learning",
            .verdict = Verdict::pass,
            .value = r.trials.back().peak_skew_m,
            .unit = "m",
            .recording = r.studied_move};
  f.text = "Learning from repeats (option), first stroke, a machine drawn from the fit's intervals: peak skew";
  for (const Trial& t : r.trials)
    f.text += fmt::format(" {:.1f} um{},", 1e6 * t.peak_skew_m,
                          t.bound_m > 0 ? fmt::format(" (bound before the trial {:.1f})", 1e6 * t.bound_m) : "");
  f.text.back() = '.';
  f.source = "docs/learning.md; converges where the response is known within its size";
  f.next = "Only for moves that repeat: the same start, carriage place and payload.";
  return f;
}

}  // namespace

std::vector<Finding> study_findings(const LoopsReport& report) {
  std::vector<Finding> out{fight_finding(report)};
  if (report.studied_move.empty()) return out;
  out.push_back(structure_finding(report));
  out.push_back(explanation_finding(report));
  if (report.trials.size() > 1) out.push_back(learning_finding(report));
  return out;
}

}  // namespace evenbeam::tuning
