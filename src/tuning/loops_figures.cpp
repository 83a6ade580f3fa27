#include "tuning/loops_figures.h"

#include <fmt/format.h>

#include <cmath>

#include "tuning/sensitivity.h"

namespace evenbeam::tuning {

base::Figure share_figure(const machine::Machine& machine, const identification::Identified& id, const Proposal& p) {
  const auto range = machine::carriage_range(machine);
  base::Line commanded{.role = base::Role::side_a, .label = "to command"},
      real{.role = base::Role::mean, .label = "real newtons"},
      held{.role = base::Role::other, .label = "held constant"};
  for (int i = 0; i <= 16; ++i) {
    const double y = range.min_y_m + i * (range.max_y_m - range.min_y_m) / 16;
    const auto c = identification::share_at(id.motion, machine, y, machine.payload_min_kg, true);
    const auto r = identification::share_at(id.motion, machine, y, machine.payload_min_kg, false);
    commanded.x.push_back(y), commanded.y.push_back(c.value), commanded.lower.push_back(c.lower),
        commanded.upper.push_back(c.upper);
    real.x.push_back(y), real.y.push_back(r.value), real.lower.push_back(r.lower), real.upper.push_back(r.upper);
    held.x.push_back(y), held.y.push_back(p.share.constant);
  }
  base::Panel panel{.x = {"carriage place y", "m"}, .y = {"share of A", "1"}, .lines = {real, commanded}};
  if (!p.share.follows) panel.lines.push_back(held);
  return {.id = "loops_share",
          .title = "Force share of A that makes no yaw",
          .caption = fmt::format(
              "Without payload beyond {:.3g} kg. Band: 95 %. The commanded share differs from the real one "
              "by each side's force scale.",
              machine.payload_min_kg),
          .panels = {panel}};
}

base::Figure sensitivity_figure(const identification::Identified& id, const machine::Machine& machine,
                                const Proposal& p) {
  base::Panel panel{.x = {"frequency", "Hz", true}, .y = {"largest singular value of the sensitivity", "1"}};
  const auto range = machine::carriage_range(machine);
  const double top = 0.45 / p.settings.period_s;
  const base::Role roles[] = {base::Role::side_a, base::Role::mean, base::Role::side_b};
  const double places[] = {range.min_y_m, (range.min_y_m + range.max_y_m) / 2, range.max_y_m};
  for (int k = 0; k < 3; ++k) {
    base::Line line{.role = roles[k], .label = fmt::format("carriage at {:.2f} m", places[k])};
    const dynamics::Plant plant = at_case(id.plant, {places[k], machine.payload_min_kg});
    for (double hz = 1; hz < std::min(top, 1000.0); hz *= 1.03) {
      line.x.push_back(hz);
      line.y.push_back(sensitivity_at(plant, at_place(p, p.settings, places[k]), hz));
    }
    panel.lines.push_back(std::move(line));
  }
  panel.bands.push_back({.from = 1.7, .label = "beyond the promise of 1.7"});
  return {.id = "loops_sensitivity",
          .title = "How near the loops come to instability, by frequency",
          .caption =
              "Fitted plant with delay and hold, without payload. The worse of output side and input side; 1 = no "
              "effect, "
              "the peak is the inverse of the distance to instability.",
          .panels = {panel}};
}

base::Figure structures_figure(const LoopsReport& report) {
  const base::Role roles[] = {base::Role::side_b, base::Role::other, base::Role::side_a, base::Role::mean};
  base::Figure out{
      .id = "loops_structures",
      .title = "What the structure of the loops buys, all at the same robustness",
      .caption = fmt::format("Forecast of the first stroke of {}. Above: share one half and no friction "
                             "feed-forward. Below: with the share of the carriage's place and each side's "
                             "friction fed forward.",
                             report.studied_move)};
  for (bool informed : {false, true}) {
    base::Panel panel{.x = {"time", "s"}, .y = {informed ? "skew error, informed" : "skew error, bare", "m"}};
    size_t k = 0;
    for (const StructureResult& r : report.structures) {
      const std::vector<double>& error = informed ? r.informed.run_skew_error_m : r.bare.run_skew_error_m;
      base::Line line{.role = roles[k++ % 4], .label = name_of(r.structure)};
      for (size_t i = 0; i < error.size(); ++i) {
        line.x.push_back(static_cast<double>(i) * report.proposal.settings.period_s);
        line.y.push_back(error[i]);
      }
      if (r.found) panel.lines.push_back(std::move(line));
    }
    out.panels.push_back(std::move(panel));
  }
  return out;
}

}  // namespace evenbeam::tuning
