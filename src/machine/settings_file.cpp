#include "machine/settings_file.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <vector>

#include "base/check.h"
#include "machine/toml_reader.h"

namespace evenbeam::machine {
namespace {

constexpr const char* settings_format = "evenbeam.settings/1";

// Ranges: what a gantry between a kilogram and a hundred tonnes can ask for. Outside, a unit or a decimal point is
// wrong.
constexpr Plausible period_range{10e-6, 20e-3};
constexpr Plausible mass_range{0, 1e5};
constexpr Plausible force_range{0, 1e6};
constexpr Plausible offset_range{-1e6, 1e6};
constexpr Plausible peak_range{1e-3, 1e6};
constexpr Plausible viscous_range{0, 1e6};
constexpr Plausible ramp_range{1e-6, 10};
constexpr Plausible position_gain_range{0, 1e4};
constexpr Plausible velocity_gain_range{0, 1e8};
constexpr Plausible integral_range{0, 1e3};
constexpr Plausible filter_hz_range{0, 1e6};
constexpr Plausible notch_hz_range{0.01, 1e5};
constexpr Plausible place_range{-50, 50};
constexpr Plausible numerator_damping_range{0, 100};
constexpr Plausible denominator_damping_range{1e-4, 100};

void read_filters(TableReader& table, double period_s, std::vector<Biquad>& filters) {
  std::vector<TableReader> stated = table.tables("filters");
  if (!table.has("filters")) return;
  filters.clear();
  for (TableReader& one : stated) {
    Biquad filter;
    filter.hz = one.quantity("frequency", "Hz", notch_hz_range, "180 Hz").value_or(0);
    filter.zn = one.number("zn", numerator_damping_range, "0.1").value_or(0);
    filter.zd = one.number("zd", denominator_damping_range, "0.7").value_or(0);
    if (!one.has("frequency")) one.missing("frequency", "the frequency of the filter", "\"180 Hz\"");
    if (!one.has("zn")) one.missing("zn", "the damping of its numerator", "0.1");
    if (!one.has("zd")) one.missing("zd", "the damping of its denominator", "0.7");
    if (filter.hz > 0 && period_s > 0 && filter.hz * period_s >= 0.5)
      one.refuse("frequency", fmt::format("less than half the sampling rate, {:g} Hz", 0.5 / period_s),
                 "Correct the frequency, or the period of the loop.");
    one.close();
    filters.push_back(filter);
  }
}

void read_share_along(TableReader& table, std::vector<ShareAt>& places) {
  std::vector<TableReader> stated = table.tables("share_along");
  if (!table.has("share_along")) return;
  places.clear();
  for (TableReader& one : stated) {
    ShareAt place;
    place.y_m = one.quantity("y", "m", place_range, "-0.8 m").value_or(0);
    place.share = one.number("share", {0, 1}, "0.47").value_or(0.5);
    if (!one.has("y")) one.missing("y", "where the carriage stands", "\"-0.8 m\"");
    if (!one.has("share")) one.missing("share", "the share of A there", "0.47");
    if (!places.empty() && one.has("y") && place.y_m <= places.back().y_m)
      one.refuse("y", "a place beyond the one before", "Put the places in rising order of y, each once.");
    one.close();
    places.push_back(place);
  }
}

void read_coordinate(TableReader& parent, std::string_view key, double period_s, CoordinateLoop& loop) {
  std::optional<TableReader> table = parent.table(key);
  if (!table) return;
  const auto set = [](double& field, std::optional<double> value) { field = value.value_or(field); };
  set(loop.position_gain_per_s, table->quantity("position_gain", "1/s", position_gain_range, "25 1/s"));
  set(loop.velocity_gain_n_s_per_m, table->quantity("velocity_gain", "N*s/m", velocity_gain_range, "6000 N*s/m"));
  set(loop.velocity_integral_s, table->quantity("velocity_integral", "s", integral_range, "80 ms"));
  set(loop.velocity_filter_hz, table->quantity("velocity_filter", "Hz", filter_hz_range, "1500 Hz"));
  read_filters(*table, period_s, loop.filters);
  table->close();
}

std::string exact(double value) {
  base::check(std::isfinite(value), "a setting is finite when it is written", {value});
  char buffer[32];
  const auto [end, trouble] = std::to_chars(buffer, buffer + sizeof buffer, value);
  base::check(trouble == std::errc{}, "a double takes at most 24 letters", {value});
  return {buffer, end};
}

std::string line(std::string_view key, double value, std::string_view unit) {
  return fmt::format("{} = \"{} {}\"\n", key, exact(value), unit);
}

std::string coordinate_text(std::string_view name, const CoordinateLoop& loop) {
  std::string text = fmt::format("\n[{}]\n", name);
  text += line("position_gain", loop.position_gain_per_s, "1/s");
  text += line("velocity_gain", loop.velocity_gain_n_s_per_m, "N*s/m");
  text += line("velocity_integral", loop.velocity_integral_s, "s");
  text += line("velocity_filter", loop.velocity_filter_hz, "Hz");
  text += "filters = [";
  for (const Biquad& filter : loop.filters)
    text += fmt::format("\n  {{ frequency = \"{} Hz\", zn = \"{}\", zd = \"{}\" }},", exact(filter.hz),
                        exact(filter.zn), exact(filter.zd));
  return text + (loop.filters.empty() ? "]\n" : "\n]\n");
}

}  // namespace

double share_with_carriage_at(const Settings& settings, double carriage_y_m) {
  const std::vector<ShareAt>& places = settings.share_along;
  if (places.empty()) return settings.share;
  if (carriage_y_m <= places.front().y_m) return places.front().share;
  for (size_t i = 1; i < places.size(); ++i) {
    const ShareAt &low = places[i - 1], &high = places[i];
    if (carriage_y_m <= high.y_m)
      return low.share + (high.share - low.share) * (carriage_y_m - low.y_m) / (high.y_m - low.y_m);
  }
  return places.back().share;
}

Settings read_settings_table(TableReader& table, const Settings& start) {
  Settings settings = start;
  const auto set = [](double& field, std::optional<double> value) { field = value.value_or(field); };
  set(settings.period_s, table.quantity("period", "s", period_range, "100 us"));
  set(settings.share, table.number("share", {0, 1}, "0.5"));
  read_share_along(table, settings.share_along);
  set(settings.mass_ff_kg, table.quantity("mass_ff", "kg", mass_range, "560 kg"));
  set(settings.skew_ff_kg, table.quantity("skew_ff", "kg", mass_range, "120 kg"));
  set(settings.coulomb_ff_a_n, table.quantity("coulomb_ff_a", "N", force_range, "40 N"));
  set(settings.coulomb_ff_b_n, table.quantity("coulomb_ff_b", "N", force_range, "40 N"));
  set(settings.coulomb_ramp_m_per_s, table.quantity("coulomb_ramp", "m/s", ramp_range, "1 mm/s"));
  set(settings.viscous_ff_a_n_s_per_m, table.quantity("viscous_ff_a", "N*s/m", viscous_range, "150 N*s/m"));
  set(settings.viscous_ff_b_n_s_per_m, table.quantity("viscous_ff_b", "N*s/m", viscous_range, "150 N*s/m"));
  set(settings.offset_a_n, table.quantity("offset_a", "N", offset_range, "5 N"));
  set(settings.offset_b_n, table.quantity("offset_b", "N", offset_range, "5 N"));
  set(settings.peak_force_a_n, table.quantity("peak_force_a", "N", peak_range, "2600 N"));
  set(settings.peak_force_b_n, table.quantity("peak_force_b", "N", peak_range, "2600 N"));
  read_coordinate(table, "mean", settings.period_s, settings.mean);
  read_coordinate(table, "skew", settings.period_s, settings.skew);
  table.close();
  return settings;
}

Settings read_settings(const std::string& text, const std::string& file_name) {
  const toml::table root = parse_toml(text, file_name);
  std::vector<base::Trouble> troubles;
  TableReader reader(root, "", file_name, troubles);
  reader.require_format(settings_format);
  const Settings settings = read_settings_table(reader);
  if (!reader.has("period")) reader.missing("period", "the sampling period of the loop", "\"100 us\"");
  if (!reader.has("peak_force_a")) reader.missing("peak_force_a", "the force at 100 % output", "\"2600 N\"");
  if (!reader.has("peak_force_b")) reader.missing("peak_force_b", "the force at 100 % output", "\"2600 N\"");
  throw_if_any(std::move(troubles));
  return settings;
}

std::string write_settings(const Settings& settings) {
  std::string text = fmt::format("format = \"{}\"\n", settings_format);
  text += line("period", settings.period_s, "s");
  text += fmt::format("share = \"{}\"\n", exact(settings.share));
  if (!settings.share_along.empty()) {
    text += "share_along = [";
    for (const ShareAt& place : settings.share_along)
      text += fmt::format("\n  {{ y = \"{} m\", share = \"{}\" }},", exact(place.y_m), exact(place.share));
    text += "\n]\n";
  }
  text += line("mass_ff", settings.mass_ff_kg, "kg");
  text += line("skew_ff", settings.skew_ff_kg, "kg");
  text += line("coulomb_ff_a", settings.coulomb_ff_a_n, "N");
  text += line("coulomb_ff_b", settings.coulomb_ff_b_n, "N");
  text += line("coulomb_ramp", settings.coulomb_ramp_m_per_s, "m/s");
  text += line("viscous_ff_a", settings.viscous_ff_a_n_s_per_m, "N*s/m");
  text += line("viscous_ff_b", settings.viscous_ff_b_n_s_per_m, "N*s/m");
  text += line("offset_a", settings.offset_a_n, "N");
  text += line("offset_b", settings.offset_b_n, "N");
  text += line("peak_force_a", settings.peak_force_a_n, "N");
  text += line("peak_force_b", settings.peak_force_b_n, "N");
  return text + coordinate_text("mean", settings.mean) + coordinate_text("skew", settings.skew);
}

}  // namespace evenbeam::machine
