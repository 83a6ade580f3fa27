#include "tuning/next_capture_words.h"

#include <fmt/format.h>

#include <cmath>

#include "tuning/capture_candidates.h"
#include "tuning/plant_interval.h"

namespace evenbeam::tuning {
namespace {

using base::Finding;
using base::Row;
using base::Value;
using base::Verdict;
using recording::RunKind;

constexpr double kTold = 0.05;  // an interval that narrows by less is not named

// As on a capture sheet: every field filled.
struct Sheet {
  std::string move, side, level, duration, record, watch;
};

std::string place_words(const ProposedCapture& c) {
  return c.payload_kg > 0 ? fmt::format("carriage at {:.3g} m, {:.3g} kg of payload", c.carriage_y_m, c.payload_kg)
                          : fmt::format("carriage at {:.3g} m, no payload", c.carriage_y_m);
}

Sheet sheet_of(const ProposedCapture& c, const machine::Machine& machine) {
  Sheet s{
      .side = "both together",
      .duration = fmt::format("{:.0f} s in all, some {:.0f} minutes with setting up", c.duration_s, c.minutes),
      .record = "time, commanded and actual position A and B, output A and B, every servo period",
      .watch = fmt::format("skew: {:.2g} mm to expect; stop at any growing tone or at twice that", 1e3 * c.skew_m)};
  const double peak_a = machine.a.peak_force_n.value_or(0), peak_b = machine.b.peak_force_n.value_or(0);
  const std::string newtons = peak_a > 0 && peak_b > 0 ? fmt::format(" ({:.3g} N of A, {:.3g} N of B)",
                                                                     c.force_part * peak_a, c.force_part * peak_b)
                                                       : "";
  const std::string force = c.force_part > 0
                                ? fmt::format("output up to {:.0f} % of peak{}", 100 * c.force_part, newtons)
                                : "output in % unknown: peak_force is not stated";
  switch (c.kind) {
    case RunKind::multisine:
      s.move = fmt::format(
          "The multisines once more, loops closed and soft as before, creeping; on A's output, then on B's; {}",
          place_words(c));
      s.side = "A, then B: one file each";
      s.level =
          fmt::format("{} the excitation of the captures at hand{}; {}",
                      std::abs(c.level - 1) < 0.01 ? std::string("as loud as") : fmt::format("{:.2g} times", c.level),
                      c.bound_by.empty() ? "" : ", as far as these allow: " + c.bound_by, force);
      break;
    case RunKind::slow_jog:
      s.move = fmt::format("Slow jogs with the settings proposed, there and back twice at three speeds, {}",
                           place_words(c));
      s.level = fmt::format("10, 50 and {:.0f} mm/s; {}", 1e3 * c.speed_m_per_s, force);
      break;
    default:
      s.move = fmt::format("The known test move with the settings proposed, {}", place_words(c));
      s.level = fmt::format("{:.3g} m at up to {:.3g} m/s, the first stroke at a tenth of it; {}", c.stroke_m,
                            c.speed_m_per_s, force);
  }
  return s;
}

std::string size_words(const CapturePlan& plan, double size) {
  return plan.by_sensitivity ? fmt::format("{:.2f}", size) : fmt::format("{:.2g} um", 1e6 * size);
}

std::string intervals_words(const std::vector<IntervalChange>& intervals) {
  std::string out;
  int named = 0;
  for (const IntervalChange& x : intervals) {
    if (named == 4 || !(x.expected < (1 - kTold) * x.now) || x.value == 0) break;
    out += fmt::format("{}{} from ±{:.2g} to ±{:.2g} %", named++ == 0 ? " Intervals to expect after it: " : ", ",
                       x.key, 100 * x.now / std::abs(x.value), 100 * x.expected / std::abs(x.value));
  }
  return out.empty() ? out : out + ".";
}

std::string causes_words(const DoubtSize& doubt) {
  std::string out;
  for (size_t k = 0; k < doubt.causes.size() && k < 3; ++k)
    if (k == 0 || doubt.causes[k].of_variance > 0.1)
      out += fmt::format("{}{} ({:.0f} %)", k == 0 ? "" : ", ", name_of(doubt.causes[k].part),
                         100 * doubt.causes[k].of_variance);
  return out;
}

}  // namespace

std::optional<Finding> next_capture_finding(const CapturePlan& plan, const machine::Machine& machine,
                                            std::optional<double> forecast_skew_m) {
  if (!(plan.now.half_width > 0)) return {};
  Finding f{.id = "next_capture", .verdict = Verdict::pass, .value = plan.now.half_width};
  f.unit = plan.by_sensitivity ? "1" : "m";
  f.source =
      "fit's covariance through the fitted machine, to first order; expected: Fisher information (Ljung, from "
      "memory); "
      "minutes: common practice, no source";
  f.text = plan.by_sensitivity
               ? fmt::format("What the fit does not know may raise the peak sensitivity by {:.2f} (95 %)",
                             plan.now.half_width)
               : fmt::format("What the fit does not know may add {} to the skew of {} (95 %)",
                             size_words(plan, plan.now.half_width), plan.move);
  f.text += fmt::format(", carriage at {:.2g} m with {:.3g} kg", plan.now.carriage_y_m, plan.now.payload_kg);
  f.text += fmt::format("; part of it that knowing one number exactly would take: {}.", causes_words(plan.now));
  const std::optional<double> goal = machine.limits.skew_goal_m;
  const bool decides = plan.by_sensitivity || (goal && forecast_skew_m && *forecast_skew_m <= *goal &&
                                               *forecast_skew_m + plan.now.half_width > *goal);
  if (decides) f.verdict = Verdict::attention;
  if (goal && !plan.by_sensitivity) f.limit = *goal;
  if (!plan.done) {
    f.text += " Of the captures tried none would narrow it by a twentieth.";
    if (decides)
      f.next = "Know the machine better than its drives tell it: weigh the payload, measure the carriage's place.";
    return f;
  }
  const ProposedCapture& best = plan.captures.front();
  const Sheet sheet = sheet_of(best, machine);
  f.text += fmt::format(" The capture that takes most of it a minute leaves {} to expect.{}",
                        size_words(plan, best.doubt), intervals_words(plan.intervals));
  f.next = fmt::format("{}. Level: {}. Time: {}. Watch {}.", sheet.move, sheet.level, sheet.duration, sheet.watch);
  return f;
}

void put_next_capture(base::StationResult& result, const CapturePlan& plan, const machine::Machine& machine) {
  std::vector<Row> captures, intervals;
  for (const ProposedCapture& c : plan.captures) {
    const Sheet sheet = sheet_of(c, machine);
    Row row{{"kind", recording::to_text(c.kind)},
            {"move", sheet.move},
            {"side", sheet.side},
            {"level", sheet.level},
            {"duration", sheet.duration},
            {"record", sheet.record},
            {"watch", sheet.watch},
            {"carriage_y_m", c.carriage_y_m},
            {"payload_kg", c.payload_kg},
            {"times_level", c.level},
            {"minutes", c.minutes},
            {"force_part", c.force_part},
            {"skew_m", c.skew_m},
            {"stroke_m", c.stroke_m},
            {"speed_m_per_s", c.speed_m_per_s}};
    if (c.left_out.empty())
      row.emplace_back("doubt_after", c.doubt);
    else
      row.emplace_back("left_out", c.left_out);
    captures.push_back(std::move(row));
  }
  for (const IntervalChange& x : plan.intervals)
    intervals.push_back(
        {{"key", x.key}, {"unit", x.unit}, {"value", x.value}, {"half_width", x.now}, {"expected", x.expected}});
  const char* unit = plan.by_sensitivity ? "1" : "m";
  result.values.emplace_back(
      "fit_doubt", plan.now.half_width > 0 ? Value{.value = plan.now.half_width, .unit = unit} : Value{.unit = unit});
  result.values.emplace_back("next_captures",
                             plan.done ? Value{.value = captures, .unit = unit} : Value{.unit = unit});
  result.values.emplace_back("next_capture_intervals", intervals.empty() ? Value{} : Value{.value = intervals});
}

}  // namespace evenbeam::tuning
