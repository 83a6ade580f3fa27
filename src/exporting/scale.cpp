#include "exporting/scale.h"

#include <fmt/format.h>

#include <cmath>

#include "units/unit.h"

namespace evenbeam::exporting {
namespace {

Carried mass(const char* key, const char* symbol, const char* name, double value) {
  return {key, symbol, name, "kg", value, -1, 2, 1};
}

void add_filters(const std::string& loop, const machine::CoordinateLoop& from, std::vector<Carried>& out) {
  for (size_t i = 0; i < from.filters.size(); ++i) {
    const machine::Biquad& f = from.filters[i];
    const std::string key = fmt::format("{}_filters[{}]", loop, i), name = fmt::format("{}: filter {}", loop, i + 1);
    out.push_back({key + ".hz", "f0", name + ", frequency", "Hz", f.hz, 0, -1, 0});
    out.push_back({key + ".zn", "zn", name + ", damping of the numerator", "1", f.zn});
    out.push_back({key + ".zd", "zd", name + ", damping of the denominator", "1", f.zd});
  }
}

void add_loop(const std::string& loop, const machine::CoordinateLoop& from, std::vector<Carried>& out) {
  const std::string m = loop == "mean" ? "_m" : "_s";
  out.push_back(
      {loop + "_position_gain_per_s", "Kp" + m, loop + ": position gain", "1/s", from.position_gain_per_s, 0, -1, 0});
  out.push_back({loop + "_velocity_gain_n_s_per_m", "Kv" + m, loop + ": velocity gain", "N*s/m",
                 from.velocity_gain_n_s_per_m, -1, 1, 1});
  out.push_back({loop + "_velocity_integral_s", "Ti" + m, loop + ": integral time of the velocity loop (0 = none)",
                 "s", from.velocity_integral_s, 0, 1, 0});
  out.push_back({loop + "_velocity_filter_hz", "fv" + m, loop + ": velocity filter (0 = none)", "Hz",
                 from.velocity_filter_hz, 0, -1, 0});
  add_filters(loop, from, out);
}

// The factor of a unit of the user's; SI where the table does not know it.
void take_user_unit(const std::string& symbol, const char* si, std::optional<double>& factor, std::string& shown) {
  const auto unit = units::find_unit(symbol);
  const auto wanted = units::find_unit(si);
  if (!unit || !wanted || unit->dimension != wanted->dimension) return;
  factor = unit->factor;
  shown = unit->symbol;
}

void take_percent(const machine::Machine& machine, Scale& scale) {
  scale.force = "%";
  const auto peak_a = machine.a.peak_force_n, peak_b = machine.b.peak_force_n;
  if (!peak_a) scale.missing.push_back("peak_force in [side_a] or [side]");
  if (!peak_b) scale.missing.push_back("peak_force in [side_b] or [side]");
  scale.force_n = peak_a ? std::optional(*peak_a / 100) : std::nullopt;
  scale.output_b = peak_a && peak_b ? std::optional(*peak_a / *peak_b) : std::nullopt;
}

void take_ampere(const machine::Machine& machine, Scale& scale) {
  const auto per_ampere = [&](const machine::Side& side, const char* name) -> std::optional<double> {
    if (side.peak_force_n && side.full_output_a) return *side.peak_force_n / *side.full_output_a;
    scale.missing.push_back(
        fmt::format("{} in [side_{}] or [side]", side.peak_force_n ? "full_output" : "peak_force", name));
    return std::nullopt;
  };
  scale.force = "A";
  scale.force_n = per_ampere(machine.a, "a");
  const auto b = per_ampere(machine.b, "b");
  scale.output_b = scale.force_n && b ? std::optional(*scale.force_n / *b) : std::nullopt;
}

void take_counts(const machine::Machine& machine, Scale& scale) {
  scale.length = "count";
  const auto a = machine.a.count_m, b = machine.b.count_m;
  if (!a) scale.missing.push_back("count in [side_a] or [side]");
  if (!b) scale.missing.push_back("count in [side_b] or [side]");
  scale.length_m = a;
  scale.position_b = a && b ? std::optional(*b / *a) : std::nullopt;
}

// "%/(mm/s^2)": force over length over time.
std::string unit_text(const Carried& c, const Scale& scale) {
  if (scale.keeps_kg && c.si_unit == "kg") return c.si_unit;
  if (c.si_unit == "Hz" && scale.time == "s") return c.si_unit;
  if (c.place) return scale.place;
  if (c.length == 0 && c.time == 0 && c.force == 0) return "1";
  if (c.force == 1 && c.length == 0) return scale.force;
  if (c.force == 1)
    return fmt::format("{}/({}/{}{})", scale.force, scale.length, scale.time, c.time == 2 ? "^2" : "");
  if (c.length == 1) return c.time == -1 ? scale.length + "/" + scale.time : scale.length;
  return c.time == 1 ? scale.time : "1/" + scale.time;
}

// One SI unit of the setting in units of the form; nullopt where the scale is unknown.
std::optional<double> factor_of(const Carried& c, const Scale& scale) {
  if (scale.keeps_kg && c.si_unit == "kg") return 1;
  if (c.place) return 1 / scale.place_m;
  double factor = 1;
  const auto carry = [&](int power, const std::optional<double>& unit) {
    if (power == 0) return true;
    if (!unit) return false;
    factor /= std::pow(*unit, power);
    return true;
  };
  if (!carry(c.length, scale.length_m) || !carry(c.time, scale.time_s) || !carry(c.force, scale.force_n))
    return std::nullopt;
  return factor;
}

}  // namespace

std::vector<Scale> scales(const machine::Settings& settings, const machine::Machine& machine) {
  Scale si{.form = "si", .title = "SI", .keeps_kg = true};
  Scale user{.form = "user", .title = "Own units", .keeps_kg = true};
  take_user_unit(machine.length_unit, "m", user.length_m, user.length);
  take_user_unit(machine.force_unit, "N", user.force_n, user.force);
  user.place_m = user.length_m.value_or(1), user.place = user.length;
  Scale percent = user;
  percent.form = "percent", percent.title = "Per cent of peak", percent.keeps_kg = false;
  take_percent(machine, percent);
  Scale ampere = user;
  ampere.form = "ampere", ampere.title = "Ampere", ampere.keeps_kg = false;
  take_ampere(machine, ampere);
  Scale counts = percent;
  counts.form = "counts", counts.title = "Counts";
  take_counts(machine, counts);
  Scale cycle = counts;
  cycle.form = "cycle", cycle.title = "Counts and servo cycles";
  cycle.time_s = settings.period_s, cycle.time = "cycle";
  return {si, user, percent, ampere, counts, cycle};
}

std::vector<Carried> carried(const machine::Settings& s) {
  std::vector<Carried> out;
  out.push_back({"period_s", "T", "servo period", "s", s.period_s, 0, 1, 0});
  if (s.share_along.empty()) out.push_back({"share", "sigma", "share of A in the mean force", "1", s.share});
  for (size_t i = 0; i < s.share_along.size(); ++i) {
    const std::string key = fmt::format("share[{}]", i);
    out.push_back(
        {key + ".y_m", "y", fmt::format("carriage place {}", i + 1), "m", s.share_along[i].y_m, 1, 0, 0, true});
    out.push_back({key + ".share", "sigma", "share of A there", "1", s.share_along[i].share});
  }
  add_loop("mean", s.mean, out);
  add_loop("skew", s.skew, out);
  out.push_back(mass("mass_ff_kg", "mass_ff", "mean: acceleration feed-forward", s.mass_ff_kg));
  out.push_back(mass("skew_ff_kg", "skew_ff", "skew: acceleration feed-forward", s.skew_ff_kg));
  out.push_back({"coulomb_ff_a_n", "Fc_A", "Coulomb feed-forward A", "N", s.coulomb_ff_a_n, 0, 0, 1});
  out.push_back({"coulomb_ff_b_n", "Fc_B", "Coulomb feed-forward B", "N", s.coulomb_ff_b_n, 0, 0, 1});
  out.push_back({"coulomb_ramp_m_per_s", "v_0", "Coulomb feed-forward: full above this speed", "m/s",
                 s.coulomb_ramp_m_per_s, 1, -1, 0});
  out.push_back(
      {"viscous_ff_a_n_s_per_m", "B_A", "viscous feed-forward A", "N*s/m", s.viscous_ff_a_n_s_per_m, -1, 1, 1});
  out.push_back(
      {"viscous_ff_b_n_s_per_m", "B_B", "viscous feed-forward B", "N*s/m", s.viscous_ff_b_n_s_per_m, -1, 1, 1});
  out.push_back({"offset_a_n", "offset_A", "constant force A", "N", s.offset_a_n, 0, 0, 1});
  out.push_back({"offset_b_n", "offset_B", "constant force B", "N", s.offset_b_n, 0, 0, 1});
  out.push_back({"peak_force_a_n", "peak_A", "clip of A", "N", s.peak_force_a_n, 0, 0, 1});
  out.push_back({"peak_force_b_n", "peak_B", "clip of B", "N", s.peak_force_b_n, 0, 0, 1});
  return out;
}

SheetRow in_scale(const Carried& c, const Scale& scale) {
  SheetRow row{.key = c.key, .symbol = c.symbol, .name = c.name, .unit = unit_text(c, scale)};
  const std::optional<double> factor = factor_of(c, scale);
  if (!factor) {
    row.how = fmt::format("unknown: machine.toml lacks {}", fmt::join(scale.missing, " and "));
    return row;
  }
  row.value = c.value * *factor;
  row.how = *factor == 1 ? fmt::format("as in SI") : fmt::format("{:.6g} {} x {:.6g}", c.value, c.si_unit, *factor);
  if (scale.form == "si") row.how = "settings.toml";
  return row;
}

}  // namespace evenbeam::exporting
