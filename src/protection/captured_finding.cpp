// What a captured fault showed, and how far the prediction was off.
#include <fmt/format.h>

#include <cmath>

#include "protection/trips_findings.h"

namespace evenbeam::protection {

using base::Finding;
using base::Verdict;

namespace {

constexpr double kWanted = 0.2;  // a prediction within a fifth is what is aimed at

}  // namespace

Finding captured_finding(const CapturedFault& c, const TripSettings& t, double allowable_m) {
  Finding f{
      .id = "captured_" + c.recording.substr(0, 2), .verdict = Verdict::pass, .unit = "m", .recording = c.recording};
  if (!c.found) {
    f.verdict = Verdict::attention;
    f.text = "No fault can be read from it: " + c.why_not + ".";
    f.next = "Record positions and outputs of both sides from before the fault to standstill.";
    return f;
  }
  f.value = std::abs(c.peak_skew_m);
  f.from_s = c.fault_s;
  f.to_s = c.end_s;
  f.source = "capture; prediction by the virtual gantry with the plant of the other captures";
  f.text = fmt::format("The output of {} vanished at {:.4f} s at {:.2f} m/s", c.first_is_a ? "A" : "B", c.fault_s,
                       c.speed_m_per_s);
  f.text += c.cross_trip_s
                ? fmt::format("; the other side's {:.1f} ms later, at {:.4f} s", 1e3 * *c.cross_trip_s, c.other_s)
                : std::string("; the other side never let go in this file");
  f.text += fmt::format(
      ". Largest skew from the stress-free attitude {}, yaw moment {:.0f} N*m, {:.1f} ms after the fault.",
      mm(c.peak_skew_m), std::abs(c.peak_moment_n_m), 1e3 * (c.peak_at_s - c.fault_s));
  if (allowable_m > 0 && std::abs(c.peak_skew_m) > allowable_m) {
    f.verdict = Verdict::stop;
    f.text += " That is more than the guides take.";
    f.next = "Inspect guides and mountings before the bridge moves again.";
  }
  if (c.predicted_peak_m) {
    const double off = std::abs(*c.predicted_peak_m) / std::abs(c.peak_skew_m) - 1;
    f.text += fmt::format(" Predicted {} ({:+.0f} %).", mm(*c.predicted_peak_m), 100 * off);
    if (std::abs(off) > kWanted) {
      f.verdict = base::worse(f.verdict, Verdict::attention);
      f.next = "The prediction is more than a fifth off: do not rely on the trips above before that is understood.";
    }
  } else {
    f.text += " Not predicted: plant or loops of this capture are not known.";
  }
  if (t.done)
    f.text += c.seen_s ? fmt::format(" A skew trip of {} would have seen it {:.1f} ms after the fault.",
                                     mm(t.skew_trip_m), 1e3 * (*c.seen_s - c.fault_s))
                       : fmt::format(" It never reached the skew trip of {}: only the drive's own signal stops it.",
                                     mm(t.skew_trip_m));
  if (c.cross_trip_s && t.done)
    f.text += fmt::format(" {:.1f} ms from side to side are {} the budget of {:.1f} ms.", 1e3 * *c.cross_trip_s,
                          *c.cross_trip_s <= t.latency_budget_s.value_or(0) ? "inside" : "over",
                          1e3 * t.latency_budget_s.value_or(0));
  return f;
}

}  // namespace evenbeam::protection
