#include "acceptance/prove_station.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "acceptance/circle_findings.h"
#include "acceptance/cold_and_warm.h"
#include "acceptance/move_plan.h"
#include "acceptance/positioning_findings.h"
#include "acceptance/prove_figures.h"
#include "acceptance/prove_findings.h"
#include "acceptance/side_errors.h"

namespace evenbeam::acceptance {

namespace {

using base::Cell;
using base::Row;
using base::Value;

Cell cell(const std::optional<double>& value) { return value ? Cell{*value} : Cell{std::string("unknown")}; }

std::optional<double> part(const std::optional<SideForce>& force, std::optional<double> SideForce::*member) {
  return force ? (*force).*member : std::nullopt;
}

Row row_of(const JudgedMove& move) {
  const MoveMeasures& m = move.measures;
  const auto phase = [&](Phase p) { return m.skew_by_phase[std::size_t(p)]; };
  Row row{{"move", move.recording->name},
          {"carriage_y_m", cell(move.recording->carriage_y_m)},
          {"payload_kg", cell(move.recording->payload_kg)},
          {"peak_skew_m", m.skew.peak},
          {"peak_skew_doubt_m", m.peak_doubt_m},
          {"rms_skew_m", m.skew.rms}};
  for (const Phase p : {Phase::acceleration, Phase::cruise, Phase::deceleration, Phase::rest}) {
    const bool seen = phase(p).samples > 0;
    row.push_back({"peak_skew_" + to_text(p) + "_m", cell(seen ? std::optional(phase(p).peak) : std::nullopt)});
    row.push_back({"rms_skew_" + to_text(p) + "_m", cell(seen ? std::optional(phase(p).rms) : std::nullopt)});
  }
  row.push_back({"peak_mean_error_m", m.mean.peak});
  row.push_back({"settle_s", cell(m.settle_s)});
  row.push_back({"settle_mean_s", cell(m.settle_mean_s)});
  row.push_back({"settle_skew_s", cell(m.settle_skew_s)});
  if (!m.settle_s && m.settle_at_least_s > 0) row.push_back({"settle_at_least_s", m.settle_at_least_s});
  row.push_back({"side_error_correlation", cell(m.side_correlation)});
  row.push_back({"rms_force_a", cell(part(m.force_a, &SideForce::rms))});
  row.push_back({"rms_force_b", cell(part(m.force_b, &SideForce::rms))});
  row.push_back({"peak_force_a", cell(part(m.force_a, &SideForce::peak))});
  row.push_back({"peak_force_b", cell(part(m.force_b, &SideForce::peak))});
  row.push_back({"standing_fight_n", cell(m.standing_fight_n)});
  row.push_back({"reversal_skew_m", cell(reversal_skew_m(m))});
  const std::optional<Drift> drift = drift_of(*move.recording, m);
  row.push_back({"drift_skew_m", cell(drift ? std::optional(drift->skew_m) : std::nullopt)});
  row.push_back({"drift_fight_n", cell(drift ? drift->fight_n : std::nullopt)});
  for (const MoveRinging& r : move.ringing)
    row.push_back({"ringing_" + r.coordinate + "_" + to_text(r.phase) + "_hz", r.hz});
  if (move.forecast) row.push_back({"forecast_peak_skew_m", move.forecast->peak_skew_m});
  return row;
}

Value number(const std::optional<double>& value, const char* unit) {
  Value out{.unit = unit};
  if (value) out.value = *value;
  return out;
}

Value rms_force(const std::optional<SideForce>& force) {
  Value out = number(part(force, &SideForce::rms), "1");
  if (force && force->rms && force->rms_half)
    out.lower = std::max(0.0, *force->rms - *force->rms_half), out.upper = *force->rms + *force->rms_half;
  return out;
}

const JudgedMove& worst_of(const std::vector<JudgedMove>& moves) {
  return *std::max_element(moves.begin(), moves.end(), [](const JudgedMove& a, const JudgedMove& b) {
    return a.measures.skew.peak < b.measures.skew.peak;
  });
}

// Headline numbers: those of the move with the largest peak skew; every move has its own row.
void add_values(const std::vector<JudgedMove>& moves, const SettleWindow& window, base::StationResult& out) {
  const JudgedMove& worst = worst_of(moves);
  const MoveMeasures& m = worst.measures;
  Value peak = number(m.skew.peak, "m"), rms = number(m.skew.rms, "m"), name{.unit = ""}, rows{.unit = ""};
  peak.lower = std::max(0.0, m.skew.peak - m.peak_doubt_m);
  peak.upper = m.skew.peak + m.peak_doubt_m;
  peak.level = rms.level = 1.0;  // bounds from counts, not statistics
  rms.lower = std::max(0.0, m.skew.rms - m.rms_doubt_m);
  rms.upper = m.skew.rms + m.rms_doubt_m;
  name.value = worst.recording->name;
  std::vector<Row> list;
  for (const JudgedMove& move : moves) list.push_back(row_of(move));
  rows.value = list;
  out.values = {{"worst_move", name},
                {"peak_skew_m", peak},
                {"rms_skew_m", rms},
                {"settle_s", number(m.settle_s, "s")},
                {"settle_window_m", number(window.half_m, "m")},
                {"side_error_correlation", number(m.side_correlation, "1")},
                {"rms_force_a", rms_force(m.force_a)},
                {"rms_force_b", rms_force(m.force_b)},
                {"moves", rows}};
}

void append(std::vector<base::Finding>& to, const std::vector<base::Finding>& from) {
  to.insert(to.end(), from.begin(), from.end());
}

base::StationOutcome nothing_to_judge(const std::vector<recording::Recording>& recordings) {
  base::StationOutcome out;
  out.result.name = "prove";
  base::Finding f{.id = "no_moves", .text = "No recording shows a closed-loop move with positions and references."};
  if (std::any_of(recordings.begin(), recordings.end(), [](const recording::Recording& r) {
        return r.kind == recording::RunKind::test_move && !recording::has_references(r);
      }))
    f.text += " There are test moves, but without the references of both sides their skew error cannot be told.";
  f.next =
      "Capture a move there and back, twice, at the process's speed and acceleration: both references, both "
      "positions and both outputs, at the servo's own rate, until 1 s after the last stop; carriage at one end, in "
      "the middle, at the other end.";
  out.result.findings.push_back(f);
  return out;
}

base::StationOutcome judge_moves(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                                 const ProveInput& input) {
  double count_m = 0;
  std::vector<const recording::Recording*> chosen;
  for (const recording::Recording& rec : recordings) {
    if (!is_move(rec)) continue;
    chosen.push_back(&rec);
    count_m = std::max({count_m, rec.count_a_m, rec.count_b_m});
  }
  if (chosen.empty()) return nothing_to_judge(recordings);
  const SettleWindow window = settle_window(machine, count_m);
  std::vector<JudgedMove> moves;
  for (const recording::Recording* rec : chosen) moves.push_back(judge_move(*rec, machine, input, window.half_m));
  base::StationOutcome out;
  out.result.name = "prove";
  std::vector<base::Finding>& findings = out.result.findings;
  if (moves.size() > 1) findings.push_back(comparison_finding(moves));
  for (const JudgedMove& move : moves) {
    findings.push_back(skew_finding(move, machine, input));
    append(findings, loop_findings(move));
    findings.push_back(settling_finding(move, window));
    append(findings, force_findings(move, machine));
    append(findings, forecast_findings(move));
    out.figures.push_back(move_figure(move, machine, input));
  }
  const bool rated = machine.a.continuous_force_n && machine.b.continuous_force_n;
  if (!rated && std::any_of(moves.begin(), moves.end(), [](const JudgedMove& m) { return m.measures.force_a; }))
    findings.push_back(
        {.id = "thermal_rating",
         .text = "Whether the motors bear the cycle is not known: continuous_force of a side is not stated.",
         .next = "State continuous_force of both sides in machine.toml."});
  const std::vector<ColdWarm> pairs = cold_and_warm(machine, moves);
  for (const ColdWarm& pair : pairs) findings.push_back(cold_warm_finding(pair, machine));
  findings.push_back(move_plan_finding(machine, move_plan(machine, moves)));
  out.result.verdict = base::overall(findings);
  add_values(moves, window, out.result);
  if (!pairs.empty()) out.result.values.emplace_back("cold_and_warm", cold_warm_rows(pairs));
  if (moves.size() > 1) out.figures.push_back(comparison_figure(moves, machine));
  out.figures.push_back(settling_figure(moves, window));
  out.figures.push_back(spectrum_figure(*worst_of(moves).recording, worst_of(moves).measures));
  return out;
}

}  // namespace

base::StationOutcome prove_station(const std::vector<recording::Recording>& recordings,
                                   const machine::Machine& machine, const ProveInput& input) {
  base::StationOutcome out = judge_moves(recordings, machine, input);
  add_circles(recordings, machine, out);
  add_positioning(input.positioning, machine.span_m, out);
  if (!input.b_minus_a_m.empty()) add_homing_repeatability(input.b_minus_a_m, out);
  return out;
}

}  // namespace evenbeam::acceptance
