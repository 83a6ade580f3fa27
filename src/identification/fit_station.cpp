#include "identification/fit_station.h"

#include <fmt/format.h>

#include "identification/fit_findings.h"
#include "identification/fit_validation.h"
#include "identification/motion_rows.h"

namespace evenbeam::identification {
namespace {

using base::Verdict;

// Measured against modelled force in the test move (or whatever recording) with most rows of its kind.
base::Figure forces_figure(const std::vector<recording::Recording>& recordings, const MotionRows& rows,
                           const MotionFit& m) {
  int chosen = -1;
  for (size_t k = 0; k < recordings.size(); ++k)
    if (usable_for_motion(recordings[k]) && (chosen < 0 || recordings[k].kind == recording::RunKind::test_move))
      chosen = static_cast<int>(k);
  base::Line sum{.role = base::Role::mean, .stroke = base::Stroke::points, .label = "sum, measured"},
      sum_law{.role = base::Role::forecast, .label = "sum, by the law"},
      fight{.role = base::Role::skew, .stroke = base::Stroke::points, .label = "fight, measured"},
      fight_law{.role = base::Role::forecast, .label = "fight, by the law"};
  const Eigen::VectorXd law = rows.regression.a * m.x;
  for (size_t i = 0; i < rows.recording.size(); ++i) {
    if (rows.recording[i] != chosen) continue;
    const bool is_sum = i % 2 == 0;
    auto& measured = is_sum ? sum : fight;
    auto& modelled = is_sum ? sum_law : fight_law;
    const Eigen::Index row = static_cast<Eigen::Index>(i);
    measured.x.push_back(rows.time_s[i]);
    measured.y.push_back(rows.regression.y[row]);
    modelled.x.push_back(rows.time_s[i]);
    modelled.y.push_back(law[row]);
  }
  const std::string name = chosen < 0 ? "" : recordings[static_cast<size_t>(chosen)].name;
  return {.id = "fit_forces",
          .title = "Forces, measured and by the fitted law",
          .caption =
              fmt::format("{}, both through the same {:.3g} Hz window; points near standstill and reversals are left "
                          "out. Nameplate newtons.",
                          name, m.bandwidth_hz),
          .panels = {{.x = {"time", "s"}, .y = {"F_A + F_B", "N"}, .lines = {sum_law, sum}},
                     {.x = {"time", "s"}, .y = {"fight (F_A - F_B)/2", "N"}, .lines = {fight_law, fight}}}};
}

}  // namespace

base::StationOutcome fit_station(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                                 const Identified& id) {
  base::StationOutcome out{.result = {.name = "fit"}};
  auto& findings = out.result.findings;
  if (!id.motion.done) {
    findings.push_back({.id = "no_fit",
                        .verdict = Verdict::not_done,
                        .text = "The machine's parameters are not known: " + id.motion.reason + ".",
                        .next = "Record a test move there and back with positions and outputs of both sides."});
    return out;
  }
  out.result.values = fit_values(id);
  findings = fit_findings(id, out.result.values);
  const MotionRows rows = motion_rows(recordings, machine, id.motion.bandwidth_hz);
  add_validation(out.result, id,
                 leave_one_capture_out(rows, id.motion, recordings, id.grey.knowledge, machine.span_m));
  out.figures.push_back(forces_figure(recordings, rows, id.motion));
  out.result.verdict = base::overall(findings);
  return out;
}

}  // namespace evenbeam::identification
