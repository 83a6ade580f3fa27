#include "tuning/loops_station.h"

#include <fmt/format.h>

#include <future>

#include "tuning/loops_figures.h"
#include "tuning/loops_findings.h"
#include "tuning/loops_study.h"
#include "tuning/loops_values.h"
#include "tuning/next_capture_words.h"

namespace evenbeam::tuning {
namespace {

using base::Verdict;
using recording::Recording;

std::vector<PlaceMargins> all_margins(const machine::Machine& machine, const identification::Identified& id,
                                      const Proposal& p) {
  std::vector<PlaceMargins> out;
  const machine::CarriageRange range = machine::carriage_range(machine);
  const double full = machine.payload_max_kg.value_or(machine.payload_min_kg);
  for (const Case& c :
       {Case{range.min_y_m, machine.payload_min_kg},
        Case{(range.min_y_m + range.max_y_m) / 2, machine.payload_min_kg}, Case{range.max_y_m, full}}) {
    const dynamics::Plant plant = at_case(id.plant, c);
    const machine::Settings here = at_place(p, p.settings, c.carriage_y_m);
    PlaceMargins m{fmt::format("carriage at {:.2f} m, {:.3g} kg", c.carriage_y_m, c.payload_kg),
                   margins(plant, here)};
    m.margins.drop_a = least_stable_factor(plant, here, true);
    m.margins.drop_b = least_stable_factor(plant, here, false);
    out.push_back(m);
  }
  if (!p.measured_hz.empty())
    out.push_back({"measured response",
                   margins(p.measured_hz, p.measured_g, at_place(p, p.settings, id.response_carriage_y_m))});
  return out;
}

struct FirstMove {
  std::optional<ForecastMove> move;
  ForecastOptions options;
};

FirstMove first_move(const std::vector<Recording>& recordings, const machine::Machine& machine) {
  const double period_s = machine.servo_period_s.value_or(0);
  for (const Recording& r : recordings)
    if (is_test_move(r)) return {move_of(r, machine, period_s), forecast_options(&r, machine)};
  if (machine.moves.empty()) return {};
  return {move_of(machine.moves.front(), machine, period_s), forecast_options(nullptr, machine)};
}

std::optional<double> largest_skew(const Forecasts& forecasts) {
  std::optional<double> out;
  for (const MoveForecast& f : forecasts.proposed) out = std::max(out.value_or(0), f.peak_skew_m);
  return out;
}

}  // namespace

LoopsOutcome loops_station(const std::vector<Recording>& recordings, const machine::Machine& machine,
                           const identification::Identified& id, const CaptureLimits& limits) {
  LoopsOutcome out;
  out.outcome.result.name = "loops";
  LoopsReport report{.proposal = propose(id, machine)};
  const Proposal& p = report.proposal;
  // Forecasts and study both read the proposal and neither the other's fields.
  const auto look_ahead = [&] { return id.plant_known ? forecasts(recordings, machine, id, p) : Forecasts{}; };
  std::future<Forecasts> ahead = std::async(std::launch::async, look_ahead);
  CapturePlan next;
  if (p.found) {
    report.margins = all_margins(machine, id, p);
    const auto [move, options] = first_move(recordings, machine);
    study(report, machine, id, move, options);
    next = plan_next_capture(recordings, machine, id, p, move, report.proofs, limits);
  }
  report.forecasts = ahead.get();
  if (p.found) {
    if (report.proofs.fitted.state == Certificate::State::proved) out.certified_part = report.proofs.doubt.part;
    put_values(out.outcome.result, report);
    put_next_capture(out.outcome.result, next, machine);
    out.outcome.result.findings = loops_findings(recordings, machine, id, report);
    if (auto finding = next_capture_finding(next, machine, largest_skew(report.forecasts)))
      out.outcome.result.findings.push_back(std::move(*finding));
    out.outcome.figures = {share_figure(machine, id, p), sensitivity_figure(id, machine, p)};
    if (!report.structures.empty()) out.outcome.figures.push_back(structures_figure(report));
  } else {
    out.outcome.result.findings = {no_settings_finding(id, p)};
  }
  out.outcome.result.verdict = base::overall(out.outcome.result.findings);
  out.own_loops = std::move(report.forecasts.own);
  out.proposed_loops = std::move(report.forecasts.proposed);
  out.proposal = std::move(report.proposal);
  return out;
}

}  // namespace evenbeam::tuning
