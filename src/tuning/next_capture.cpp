#include "tuning/next_capture.h"

#include <algorithm>
#include <cmath>

#include "base/side_by_side.h"
#include "tuning/capture_candidates.h"

namespace evenbeam::tuning {
namespace {

using identification::Identified;
using math::Estimate;

constexpr double kSensitivityLimit = 2;  // end of the textbook range, as of the certificate over the doubt

// A capture narrows the doubt by chance of rounding too; below this part it is no proposal.
constexpr double kWorthwhile = 0.05;

double worth(const ProposedCapture& c, double now) { return (now - c.doubt) / c.minutes; }

void add(std::vector<IntervalChange>& out, const std::string& key, const std::string& unit, const Estimate& now,
         const Estimate& after) {
  out.push_back({key, unit, now.value, (now.upper - now.lower) / 2, (after.upper - after.lower) / 2});
}

}  // namespace

std::vector<IntervalChange> interval_changes(const Identified& now, const Identified& after,
                                             const machine::Machine& machine) {
  using namespace identification;
  std::vector<IntervalChange> out;
  const MotionFit &m = now.motion, &n = after.motion;
  add(out, "mass_over_force", "kg", m.mass_kg, n.mass_kg);
  add(out, "carriage_mass_kg", "kg", m.carriage_mass_kg, n.carriage_mass_kg);
  add(out, "gain_ratio_b_to_a", "1", m.gain_ratio_b_to_a, n.gain_ratio_b_to_a);
  add(out, "yaw_inertia_kg_m2", "kg*m^2", m.inertia_kg_m2, n.inertia_kg_m2);
  add(out, "yaw_stiffness_n_m_per_rad", "N*m/rad", m.yaw_stiffness_n_m_per_rad, n.yaw_stiffness_n_m_per_rad);
  add(out, "yaw_damping_n_m_s_per_rad", "N*m*s/rad", m.yaw_damping_n_m_s_per_rad, n.yaw_damping_n_m_s_per_rad);
  add(out, "coulomb_a_n", "N", m.coulomb_a_n, n.coulomb_a_n);
  add(out, "coulomb_b_n", "N", m.coulomb_b_n, n.coulomb_b_n);
  add(out, "viscous_a_n_s_per_m", "N*s/m", m.viscous_a_n_s_per_m, n.viscous_a_n_s_per_m);
  add(out, "viscous_b_n_s_per_m", "N*s/m", m.viscous_b_n_s_per_m, n.viscous_b_n_s_per_m);
  const machine::CarriageRange range = machine::carriage_range(machine);
  for (double y : {range.min_y_m, range.max_y_m})
    add(out, y == range.min_y_m ? "share_carriage_at_a" : "share_carriage_at_b", "1",
        share_at(m, machine, y, 0, true), share_at(n, machine, y, 0, true));
  if (!now.grey.done || !after.grey.done) return out;
  const std::pair<const char*, GreyUnknown> grey[] = {{"motor_mass_a_kg", kGreyMotorA},
                                                      {"motor_mass_b_kg", kGreyMotorB},
                                                      {"drive_stiffness_a_n_per_m", kGreyStiffnessA},
                                                      {"drive_stiffness_b_n_per_m", kGreyStiffnessB},
                                                      {"delay_s", kGreyDelay},
                                                      {"current_lag_s", kGreyLag}};
  const std::string units[] = {"kg", "kg", "N/m", "N/m", "s", "s"};
  for (size_t k = 0; k < std::size(grey); ++k)
    add(out, grey[k].first, units[k], now.grey.parameters[grey[k].second], after.grey.parameters[grey[k].second]);
  return out;
}

std::vector<DoubtSlopes> deciding_slopes(const machine::Machine& machine, const Identified& id,
                                         const Proposal& proposal, const ForecastMove& move, const Proofs& proofs) {
  const auto settings_at = [&](double y_m) { return at_place(proposal, proposal.settings, y_m); };
  if (proofs.worst.sensitivity > kSensitivityLimit)
    return {sensitivity_slopes(id, proofs.worst.carriage_y_m, proofs.worst.payload_kg,
                               settings_at(proofs.worst.carriage_y_m))};
  const machine::CarriageRange range = machine::carriage_range(machine);
  ForecastMove stroke = first_stroke(move, proposal.settings.period_s);
  std::vector<DoubtSlopes> out{skew_slopes(id, stroke, settings_at(stroke.carriage_y_m))};
  for (const Case& c : {Case{range.min_y_m, machine.payload_min_kg},
                        Case{range.max_y_m, machine.payload_max_kg.value_or(machine.payload_min_kg)}}) {
    stroke.carriage_y_m = c.carriage_y_m, stroke.payload_kg = c.payload_kg;
    out.push_back(skew_slopes(id, stroke, settings_at(c.carriage_y_m)));
  }
  return out;
}

CapturePlan plan_next_capture(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                              const Identified& id, const Proposal& proposal, const std::optional<ForecastMove>& move,
                              const Proofs& proofs, const CaptureLimits& limits) {
  CapturePlan out;
  if (!proposal.found || !id.plant_known) return out;
  // Settings found without a response do not know the drives' resonances: no capture is proposed under them, and what
  // station fit asks for, the multisines, comes first.
  if (!id.grey.done) {
    out.reason = "no response was measured or followed: the multisines that station fit asks for come first";
    return out;
  }
  if (!move) {
    out.reason = "no move is known whose skew could be foretold: describe one in machine.toml";
    return out;
  }
  out.by_sensitivity = proofs.worst.sensitivity > kSensitivityLimit;
  out.move = move->name;
  const std::vector<DoubtSlopes> slopes = deciding_slopes(machine, id, proposal, *move, proofs);
  out.now = worst_doubt(slopes, id);
  out.captures = capture_candidates(recordings, machine, id, proposal, *move, limits);
  const identification::CaptureGain gain(id, recordings, machine);
  std::vector<Identified> after(out.captures.size());
  base::side_by_side(out.captures.size(), base::machine_threads(), [&](size_t k) {
    ProposedCapture& c = out.captures[k];
    c.doubt = out.now.half_width;
    if (!c.left_out.empty()) return;
    after[k] = gain.after(c.foreseen);
    c.doubt = std::min(c.doubt, worst_doubt(slopes, after[k]).half_width);
  });
  const ProposedCapture* best = nullptr;
  for (const ProposedCapture& c : out.captures) {
    if (out.now.half_width - c.doubt < kWorthwhile * out.now.half_width) continue;
    if (best == nullptr || worth(c, out.now.half_width) > worth(*best, out.now.half_width)) best = &c;
  }
  out.done = best != nullptr;
  out.reason = out.done ? "" : "none of the captures tried would narrow it by a twentieth";
  if (best != nullptr)
    out.intervals = interval_changes(id, after[static_cast<size_t>(best - out.captures.data())], machine);
  // More data tells no less; a covariance put together of parts may say so by a few percent.
  for (IntervalChange& x : out.intervals) x.expected = std::min(x.now, x.expected);
  std::sort(out.intervals.begin(), out.intervals.end(),
            [](const IntervalChange& a, const IntervalChange& b) { return a.expected * b.now < b.expected * a.now; });
  std::stable_sort(out.captures.begin(), out.captures.end(), [&](const ProposedCapture& a, const ProposedCapture& b) {
    if (a.left_out.empty() != b.left_out.empty()) return a.left_out.empty();
    return worth(a, out.now.half_width) > worth(b, out.now.half_width);
  });
  return out;
}

}  // namespace evenbeam::tuning
