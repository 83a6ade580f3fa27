#include "tuning/loops_values.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace evenbeam::tuning {
namespace {

using base::Value;

void put_finite(base::Row& row, const std::string& key, double value) {
  if (std::isfinite(value))
    row.emplace_back(key, value);
  else
    row.emplace_back(key, std::string("none"));
}

base::Row margin_row(const PlaceMargins& m) {
  base::Row row{{"where", m.where}};
  const auto side = [&](const std::string& name, const math::LoopMargins& s, double drop) {
    put_finite(row, name + "_gain_up", s.gain_up);
    put_finite(row, name + "_gain_down", s.gain_down);
    put_finite(row, name + "_phase_rad", s.phase_rad);
    put_finite(row, name + "_disk", s.disk);
    put_finite(row, name + "_least_factor", drop);
  };
  side("a", m.margins.a, m.margins.drop_a);
  side("b", m.margins.b, m.margins.drop_b);
  const math::DiskRange both = math::disk_range(m.margins.both);
  row.emplace_back("both_disk", m.margins.both);
  row.emplace_back("both_gain_low", both.gain_low);
  put_finite(row, "both_gain_high", both.gain_high);
  row.emplace_back("both_phase_rad", both.phase_rad);
  return row;
}

void put(base::StationResult& r, const std::string& key, double value, const std::string& unit) {
  r.values.emplace_back(key, Value{.value = value, .unit = unit});
}

void put_coordinate(base::StationResult& r, const std::string& prefix, const machine::CoordinateLoop& c) {
  put(r, prefix + "position_gain_per_s", c.position_gain_per_s, "1/s");
  put(r, prefix + "velocity_gain_n_s_per_m", c.velocity_gain_n_s_per_m, "N*s/m");
  put(r, prefix + "velocity_integral_s", c.velocity_integral_s, "s");
  put(r, prefix + "velocity_filter_hz", c.velocity_filter_hz, "Hz");
  std::vector<base::Row> rows;
  for (const machine::Biquad& f : c.filters) rows.push_back({{"hz", f.hz}, {"zn", f.zn}, {"zd", f.zd}});
  r.values.emplace_back(prefix + "filters", Value{.value = rows});
}

std::vector<base::Row> forecast_rows(const Forecasts& report) {
  std::vector<base::Row> rows;
  for (size_t i = 0; i < report.proposed.size(); ++i) {
    const MoveForecast& f = report.proposed[i];
    base::Row row{{"move", f.name}, {"peak_skew_m", f.peak_skew_m}, {"lower", f.lower_m}, {"upper", f.upper_m}};
    if (std::isfinite(f.settle.longest_s)) {
      row.emplace_back("settle_s", f.settle.longest_s);
    } else {
      row.emplace_back("settle_s", std::string("unknown"));
      row.emplace_back("settle_unknown_why", why_unknown(f.settle, f.settle_window_m));
    }
    row.emplace_back("peak_mean_error_m", f.peak_mean_error_m);
    row.emplace_back("peak_force_part", f.peak_force_part);
    row.emplace_back("rms_force_part", f.rms_force_part);
    row.emplace_back("peak_guide_moment_n_m", f.peak_guide_moment_n_m);
    const auto band = [&](const std::string& key, const Band& b) {
      row.emplace_back(key + "_lower", b.lower), row.emplace_back(key + "_upper", b.upper);
    };
    band("peak_mean_error", f.mean_error_m), band("peak_force_part", f.force_part);
    band("peak_guide_moment", f.guide_moment_n_m);
    if (std::isfinite(report.payload_known_m[i]))
      row.emplace_back("peak_skew_payload_known_m", report.payload_known_m[i]);
    rows.push_back(row);
  }
  return rows;
}

Value share_value(const Proposal& p) {
  if (!p.share.follows) return {.value = p.share.constant, .unit = "1"};
  std::vector<base::Row> rows;
  for (const SharePlace& place : p.share.places)
    rows.push_back({{"y_m", place.y_m}, {"share", place.share}, {"share_full_payload", place.share_full}});
  return {.value = rows, .unit = "1"};
}

base::Row structure_row(const StructureResult& r) {
  base::Row row{{"structure", name_of(r.structure)}};
  if (!r.found) {
    row.emplace_back("peak_sensitivity", std::string("none meets the promise"));
    return row;
  }
  row.emplace_back("peak_sensitivity", r.peak_sensitivity);
  row.emplace_back("stretch", r.stretch);
  for (const auto& [name, f] :
       {std::pair<std::string, const MoveForecast*>{"bare_", &r.bare}, {"informed_", &r.informed}}) {
    row.emplace_back(name + "peak_skew_m", f->peak_skew_m);
    put_finite(row, name + "settle_s", f->settle.longest_s);
    row.emplace_back(name + "rms_force_part", f->rms_force_part);
    row.emplace_back(name + "peak_force_part", f->peak_force_part);
  }
  return row;
}

// What was found, and what is proved that nothing between the places exceeds; the proof says nothing of the measured
// response.
Value sensitivity_value(const LoopsReport& report) {
  const Proposal& p = report.proposal;
  const Certificate& proof = report.proofs.fitted;
  const double found = std::max(p.worst.peak, p.measured.peak);
  Value out{.value = found, .unit = "1", .lower = found};
  if (proof.state == Certificate::State::proved && proof.bound >= found) out.upper = proof.bound;
  out.level = 1;  // bounds, no statistics
  return out;
}

void put_study(base::StationResult& r, const LoopsReport& report) {
  const Certificate &fitted = report.proofs.fitted, &doubt = report.proofs.doubt.certificate;
  const auto bound = [](const Certificate& c) {
    return c.state == Certificate::State::proved ? Value{.value = c.bound, .unit = "1"} : Value{.unit = "1"};
  };
  r.values.emplace_back("certified_sensitivity", bound(fitted));
  r.values.emplace_back("certified_sensitivity_in_doubt", bound(doubt));
  r.values.emplace_back("certified_part_of_doubt", doubt.state == Certificate::State::proved
                                                       ? Value{.value = report.proofs.doubt.part, .unit = "1"}
                                                       : Value{.unit = "1"});
  std::vector<base::Row> steps, structures, costs, changes, trials;
  for (const GainStep& g : report.gain_steps)
    steps.push_back({{"part", g.part},
                     {"stable", std::string(g.stable ? "yes" : "no")},
                     {"peak_sensitivity", g.peak_sensitivity},
                     {"peak_skew_m", g.forecast.peak_skew_m},
                     {"lower", g.forecast.lower_m},
                     {"upper", g.forecast.upper_m}});
  for (const StructureResult& s : report.structures) structures.push_back(structure_row(s));
  for (const SettingCost& x : report.explanation.costs)
    costs.push_back({{"setting", x.setting},
                     {"less_peak_skew_m", x.less_peak_skew_m},
                     {"less_sensitivity", x.less_sensitivity},
                     {"more_peak_skew_m", x.more_peak_skew_m},
                     {"more_sensitivity", x.more_sensitivity}});
  for (const MechanicalChange& m : report.explanation.changes)
    changes.push_back({{"change", m.change},
                       {"bandwidth", m.bandwidth},
                       {"peak_skew_m", m.peak_skew_m},
                       {"as_it_is_m", report.explanation.textbook_peak_skew_m}});
  for (const Trial& t : report.trials) trials.push_back({{"peak_skew_m", t.peak_skew_m}, {"bound_m", t.bound_m}});
  r.values.emplace_back("gain_steps", Value{.value = steps, .unit = "m"});
  r.values.emplace_back("studied_move", Value{.value = report.studied_move});
  r.values.emplace_back("structures", Value{.value = structures});
  r.values.emplace_back("setting_costs", Value{.value = costs});
  r.values.emplace_back("mechanical_changes", Value{.value = changes});
  r.values.emplace_back("learning", Value{.value = trials, .unit = "m"});
  put(r, "fight_per_skew_n_per_m", report.fight.stiffness_n_per_m, "N/m");
}

}  // namespace

void put_values(base::StationResult& r, const LoopsReport& report) {
  const Proposal& p = report.proposal;
  const Forecasts& f = report.forecasts;
  const machine::Settings& s = p.settings;
  r.values.emplace_back("share", share_value(p));
  put_coordinate(r, "mean_", s.mean);
  put_coordinate(r, "skew_", s.skew);
  put(r, "mass_ff_kg", s.mass_ff_kg, "kg");
  put(r, "skew_ff_kg", s.skew_ff_kg, "kg");
  put(r, "coulomb_ff_a_n", s.coulomb_ff_a_n, "N");
  put(r, "coulomb_ff_b_n", s.coulomb_ff_b_n, "N");
  put(r, "viscous_ff_a_n_s_per_m", s.viscous_ff_a_n_s_per_m, "N*s/m");
  put(r, "viscous_ff_b_n_s_per_m", s.viscous_ff_b_n_s_per_m, "N*s/m");
  r.values.emplace_back("peak_sensitivity", sensitivity_value(report));
  put(r, "peak_sensitivity_gain_0_6", p.least_gain.peak, "1");
  put(r, "peak_sensitivity_gain_1_6", p.most_gain.peak, "1");
  put(r, "offset_a_n", s.offset_a_n, "N");
  put(r, "offset_b_n", s.offset_b_n, "N");
  put(r, "coulomb_ramp_m_per_s", s.coulomb_ramp_m_per_s, "m/s");
  put(r, "period_s", s.period_s, "s");
  r.values.emplace_back("forecast", Value{.value = forecast_rows(f), .unit = "m"});
  r.values.emplace_back("steps", Value{.value = f.steps, .unit = "m"});
  put(r, "share_constant", p.share.constant, "1");
  std::vector<base::Row> places;
  for (const PlaceError& e : f.place_errors) places.push_back({{"off_m", e.off_m}, {"peak_skew_m", e.peak_skew_m}});
  r.values.emplace_back("carriage_place_error", Value{.value = places, .unit = "m"});
  std::vector<base::Row> margins;
  for (const PlaceMargins& m : report.margins) margins.push_back(margin_row(m));
  r.values.emplace_back("margins", Value{.value = margins});
  put_study(r, report);
}

}  // namespace evenbeam::tuning
