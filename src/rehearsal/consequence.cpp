#include "rehearsal/consequence.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "base/check.h"
#include "units/unit.h"

namespace evenbeam::rehearsal {
namespace {

using simulation::RunSeries;

Consequence measured(const VirtualMachine& m, OneSided kind, bool on_a, RunSeries series) {
  Consequence out{.kind = kind, .commanded_a = on_a};
  const dynamics::Plant p = broken(m.gantry, m.broken, {.run = "rehearse"}).gantry.plant;
  const bool other_dead = kind == OneSided::search_dead || kind == OneSided::dead_in_motion;
  for (size_t k = 0; k < series.time_s.size(); ++k) {
    const double skew = series.true_a_m[k] - series.true_b_m[k] - p.stress_free_skew_m;
    out.skew_m = std::max(out.skew_m, std::abs(skew));
    if (on_a || !other_dead) out.force_n = std::max(out.force_n, std::abs(series.force_a_n[k]));
    if (!on_a || !other_dead) out.force_n = std::max(out.force_n, std::abs(series.force_b_n[k]));
  }
  out.moment_n_m = p.yaw_stiffness_n_m_per_rad * out.skew_m / p.span_m;
  out.series = std::move(series);
  return out;
}

}  // namespace

Consequence consequence(const VirtualMachine& m, const Amounts& a, OneSided kind) {
  Consequence out{.kind = kind};
  if (kind != OneSided::nothing) {
    Consequence on_a = measured(m, kind, true, one_sided_run(m, a, kind, true));
    Consequence on_b = measured(m, kind, false, one_sided_run(m, a, kind, false));
    out = on_b.skew_m > on_a.skew_m ? std::move(on_b) : std::move(on_a);
  }
  out.what = what_is_run(m, a, kind);
  base::check(std::isfinite(out.skew_m) && std::isfinite(out.force_n), "a finite consequence", {out.skew_m});
  return out;
}

namespace {

// One number's value and what the doubts make of it.
struct Sum {
  base::Estimate e;
  double up2 = 0, down2 = 0;
  explicit Sum(double value) : e(base::exactly(value)) {}
  void add(double at_low, double at_high) {
    const double up = std::max({at_low, at_high, e.value}) - e.value;
    const double down = e.value - std::min({at_low, at_high, e.value});
    up2 += up * up, down2 += down * down;
  }
  base::Estimate total() const {
    return {e.value, std::max(0.0, e.value - std::sqrt(down2)), e.value + std::sqrt(up2)};
  }
};

}  // namespace

Consequence consequence_in_doubt(const VirtualMachine& m, const Amounts& a, OneSided kind) {
  Consequence out = consequence(m, a, kind);
  if (kind == OneSided::nothing || m.doubts.empty()) return out;
  const auto at = [&](const dynamics::Plant& plant) {
    VirtualMachine other{.gantry = m.gantry, .loops = m.loops, .carriage = m.carriage, .broken = m.broken};
    other.gantry.plant = plant;
    return measured(other, kind, out.commanded_a, one_sided_run(other, a, kind, out.commanded_a));
  };
  Sum skew(out.skew_m), moment(out.moment_n_m), force(out.force_n);
  for (const Doubt& doubt : m.doubts) {
    const Consequence low = at(doubt.low), high = at(doubt.high);
    skew.add(low.skew_m, high.skew_m);
    moment.add(low.moment_n_m, high.moment_n_m);
    force.add(low.force_n, high.force_n);
  }
  out.spread = Spread{skew.total(), moment.total(), force.total()};
  return out;
}

std::string in_words(const Consequence& c, const std::string& length_unit, const std::string& force_unit) {
  if (c.kind == OneSided::nothing) return "nothing is driven";
  const auto between = [](const std::optional<base::Estimate>& e, const char* si, const std::string& unit) {
    if (!e) return std::string();
    return fmt::format(" ({} to {})", units::print_quantity(e->lower, si, unit, 3),
                       units::print_quantity(e->upper, si, unit, 3));
  };
  std::optional<base::Estimate> skew, moment, force;
  if (c.spread) skew = c.spread->skew_m, moment = c.spread->moment_n_m, force = c.spread->force_n;
  return fmt::format("skew up to {}{} from stress-free, guide moment {}{}, force up to {}{}",
                     units::print_quantity(c.skew_m, "m", length_unit, 3), between(skew, "m", length_unit),
                     units::print_quantity(c.moment_n_m, "N*m", "N*m", 3), between(moment, "N*m", "N*m"),
                     units::print_quantity(c.force_n, "N", force_unit, 3), between(force, "N", force_unit));
}

}  // namespace evenbeam::rehearsal
