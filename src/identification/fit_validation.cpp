#include "identification/fit_validation.h"

#include <fmt/format.h>

#include <algorithm>

namespace evenbeam::identification {
namespace {

using base::Finding;
using base::Row;
using base::Value;
using base::Verdict;

Finding captures_finding(const std::vector<HeldOutCapture>& captures) {
  const HeldOutCapture& worst = *std::max_element(captures.begin(), captures.end(), [](const auto& a, const auto& b) {
    return times_expected(a) < times_expected(b);
  });
  const double times = times_expected(worst);
  const bool sum = worst.sum_error_n * worst.fight_expected_n >= worst.fight_error_n * worst.sum_expected_n;
  Finding f{.id = "validation_captures", .value = times, .unit = "1", .limit = most_times_expected};
  f.verdict = times > most_times_expected ? Verdict::attention : Verdict::pass;
  f.recording = worst.recording;
  f.from_s = worst.from_s;
  f.to_s = worst.to_s;
  const std::string of = sum ? "the sum of forces" : "the fight";
  const double error = sum ? worst.sum_error_n : worst.fight_error_n;
  const double expected = sum ? worst.sum_expected_n : worst.fight_expected_n;
  f.text = f.verdict == Verdict::pass
               ? fmt::format(
                     "Each of {} captures left out, the law of the others foretells it; the worst misses {} by "
                     "{:.2g} N where {:.2g} N are to be expected.",
                     captures.size(), of, error, expected)
               : fmt::format(
                     "This capture does not follow the law of the others: {} is {:.2g} N off where {:.2g} N are "
                     "to be expected. The numbers of the fit do not hold for both.",
                     of, error, expected);
  f.source = "leave-one-capture-out, docs/equations.md; limit: common practice, no source";
  if (f.verdict != Verdict::pass)
    f.next =
        "Check what is stated for this capture (carriage place, payload, switch-on, columns, units); look for what "
        "differed: a cable, a brake, a stop, a warm guide. Record it again.";
  return f;
}

Finding lines_finding(const Identified& id) {
  Finding f{.id = "validation_lines", .value = id.grey.held_out_misfit, .unit = "1", .limit = most_misfit};
  f.recording = id.response_recordings.front();
  const bool good = id.grey.held_out_misfit <= most_misfit;
  f.verdict = good ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "On {} lines of the response that the fit has not seen the plant is {:.2g} times as far off as noise and a "
      "lumped model allow, on those it was fitted to {:.2g} times.",
      id.grey.held_out, id.grey.held_out_misfit, id.grey.misfit);
  f.source = "median over entries; limit: that of the fit itself, chosen on machines made at random";
  if (!good)
    f.next =
        "Look at the response's figure of station survey for resonances between the lines; trust the fit below them.";
  return f;
}

Finding whiteness_finding(const Identified& id) {
  const GreyFit& g = id.grey;
  Finding f{
      .id = "residual_whiteness", .value = g.residual_correlation, .unit = "1", .limit = most_residual_correlation};
  f.recording = id.response_recordings.front();
  const bool good = g.residual_correlation <= most_residual_correlation;
  f.verdict = good ? Verdict::pass : Verdict::attention;
  f.text = fmt::format(
      "What the fit leaves of neighbouring lines is alike by {:.2f} (noise alone stays within {:.2f}): {}.",
      g.residual_correlation, g.white_within,
      g.residual_correlation <= g.white_within ? "noise, as far as this tells"
      : good ? "a little of the machine is left; the intervals count lines in blocks for it"
             : "part of the machine is not in the model");
  f.source = "correlation over neighbouring lines, identification/whiteness.h; limit: common practice, no source";
  if (!good)
    f.next =
        "Look for a part that moves by itself: loose covers, cable chains, a second bending, a carriage that rocks.";
  return f;
}

Value capture_rows(const std::vector<HeldOutCapture>& captures) {
  std::vector<Row> rows;
  for (const HeldOutCapture& c : captures)
    rows.push_back({{"recording", c.recording},
                    {"times_expected", times_expected(c)},
                    {"sum_error_n", c.sum_error_n},
                    {"sum_expected_n", c.sum_expected_n},
                    {"fight_error_n", c.fight_error_n},
                    {"fight_expected_n", c.fight_expected_n}});
  return rows.empty() ? Value{.unit = "N"} : Value{.value = rows, .unit = "N"};
}

}  // namespace

void add_validation(base::StationResult& result, const Identified& id, const std::vector<HeldOutCapture>& captures) {
  const bool lines = id.grey.done && id.grey.held_out > 0;
  result.values.emplace_back("validation", capture_rows(captures));
  result.values.emplace_back("held_out_misfit",
                             lines ? Value{.value = id.grey.held_out_misfit, .unit = "1"} : Value{.unit = "1"});
  result.values.emplace_back("residual_correlation", id.grey.done
                                                         ? Value{.value = id.grey.residual_correlation, .unit = "1"}
                                                         : Value{.unit = "1"});
  if (!captures.empty()) result.findings.push_back(captures_finding(captures));
  if (lines) result.findings.push_back(lines_finding(id));
  if (id.grey.done) result.findings.push_back(whiteness_finding(id));
}

}  // namespace evenbeam::identification
