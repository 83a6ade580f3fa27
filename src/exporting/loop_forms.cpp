#include "exporting/loop_forms.h"

#include <fmt/format.h>

#include <cmath>
#include <complex>
#include <numbers>

#include "servo/side_gains.h"

namespace evenbeam::exporting {
namespace {

using Complex = std::complex<double>;

void add_pi_rows(const std::string& loop, const machine::CoordinateLoop& from, SettingsForm& form) {
  const double kp = from.position_gain_per_s, kv = from.velocity_gain_n_s_per_m, ti = from.velocity_integral_s;
  const double rate = ti > 0 ? 1 / ti : 0;
  const auto add = [&](const char* key, const char* symbol, const char* name, std::optional<double> value,
                       const char* unit, const char* how) {
    form.rows.push_back({loop + key, symbol, loop + ": " + name, value, unit, how});
  };
  add("_pi_standard_k", "K", "velocity loop, standard (and series, which is the same without a third term): gain", kv,
      "N*s/m", "Kv");
  add("_pi_standard_ti", "TI", "velocity loop, standard: integral time (0 = none)", ti, "s", "Ti");
  add("_pi_parallel_p", "P", "velocity loop, parallel: proportional", kv, "N*s/m", "Kv");
  add("_pi_parallel_i", "I", "velocity loop, parallel: integral", kv * rate, "N/m", "Kv/Ti");
  add("_pid_parallel_p", "P", "position loop, parallel: proportional", kv * (kp + rate), "N/m", "Kv (Kp + 1/Ti)");
  add("_pid_parallel_i", "I", "position loop, parallel: integral", kv * kp * rate, "N/(m*s)", "Kv Kp/Ti");
  add("_pid_parallel_d", "D", "position loop, parallel: of the speed", kv, "N*s/m", "Kv");
  add("_pid_standard_k", "K", "position loop, standard: gain", kv * (kp + rate), "N/m", "Kv (Kp + 1/Ti)");
  const bool both = kp > 0 && ti > 0;
  add("_pid_standard_ti", "TI", "position loop, standard: integral time (0 = none)", both ? ti + 1 / kp : 0, "s",
      "Ti + 1/Kp");
  add("_pid_standard_td", "TD", "position loop, standard: derivative time",
      kp + rate > 0 ? std::optional(1 / (kp + rate)) : std::nullopt, "s",
      kp + rate > 0 ? "1/(Kp + 1/Ti)"
                    : "unknown: without Kp and Ti there is speed alone, and no gain to refer it to");
  add("_pid_series_k", "K", "position loop, series: gain", kv * kp, "N/m", "Kv Kp");
  add("_pid_series_t1", "T1", "position loop, series: integral time (0 = none)", ti, "s", "Ti");
  add("_pid_series_t2", "T2", "position loop, series: derivative time", kp > 0 ? std::optional(1 / kp) : std::nullopt,
      "s", kp > 0 ? "1/Kp" : "unknown: no position gain, no series form");
  add("_pid_departure", "", "position loop: largest departure from the law, part of its response",
      three_term_departure(from, *form.rows.front().value), "1",
      "over 200 frequencies to half the rate; from the velocity filter");
}

void add_gain(const std::string& key, const char* symbol, const char* name, double value,
              const std::vector<Scale>& all, SettingsForm& form) {
  for (const Scale& scale : all) {
    if (scale.form != "si" && scale.form != "percent" && scale.form != "cycle") continue;
    const Carried gain{key + "." + scale.form, symbol, name, "N*s/m", value, -1, 1, 1};
    form.rows.push_back(in_scale(gain, scale));
    if (scale.form == "si") form.rows.back().how = "docs/loop-law.md, for a controller with one loop a side";
  }
}

}  // namespace

double three_term_departure(const machine::CoordinateLoop& loop, double period_s) {
  const double kp = loop.position_gain_per_s, rate = loop.velocity_integral_s > 0 ? 1 / loop.velocity_integral_s : 0;
  const double alpha =
      loop.velocity_filter_hz > 0 ? -std::expm1(-2 * std::numbers::pi * loop.velocity_filter_hz * period_s) : 1;
  const double top = 0.98 * std::numbers::pi / period_s, bottom = top * 1e-4;
  double worst = 0;
  for (int i = 0; i < 200; ++i) {
    const Complex z = std::polar(1.0, bottom * std::pow(top / bottom, i / 199.0) * period_s);
    const Complex sum = period_s * z / (z - 1.0), speed = alpha * (z - 1.0) / (period_s * (z - 1.0 + alpha));
    const Complex law = (1.0 + rate * sum) * (kp + speed);
    const Complex three = kp + rate + kp * rate * sum + speed;
    if (std::abs(law) > 0) worst = std::max(worst, std::abs(three - law) / std::abs(law));
  }
  return worst;
}

SettingsForm pi_form(const machine::Settings& settings) {
  SettingsForm form{.form = "pi", .title = "PI and PID forms, SI"};
  form.remarks = {"velocity filter, biquads, share, feed-forward and clip stay as in the other forms",
                  "a controller that integrates the position error unwinds in its own way when a side clips: the law "
                  "holds the coordinate"};
  form.rows.push_back({"period_s", "T", "servo period", settings.period_s, "s", "settings.toml"});
  add_pi_rows("mean", settings.mean, form);
  add_pi_rows("skew", settings.skew, form);
  return form;
}

SettingsForm sides_form(const machine::Settings& settings, const std::vector<Scale>& all) {
  const servo::SideGains gains = servo::side_gains(settings);
  SettingsForm form{.form = "sides", .title = "One loop a side, with cross gains"};
  form.remarks.push_back(gains.exact_independent ? "exact without cross gains while nothing clips"
                         : gains.exact_with_cross
                             ? "exact with the cross gains while nothing clips; without them see the loss"
                             : "not exact: mean and skew differ in more than their gain; the mean's loop is used");
  for (const std::string& lost : gains.lost) form.remarks.push_back("lost: " + lost);
  if (!settings.share_along.empty())
    form.remarks.push_back(fmt::format(
        "for share {:.6g}; where it follows the carriage, aa and ab go with sigma, ba and bb with 1 - sigma",
        settings.share));
  add_gain("velocity_gain_aa", "Kv_AA", "A's force from A's speed error", gains.aa, all, form);
  add_gain("velocity_gain_ab", "Kv_AB", "A's force from B's speed error", gains.ab, all, form);
  add_gain("velocity_gain_ba", "Kv_BA", "B's force from A's speed error", gains.ba, all, form);
  add_gain("velocity_gain_bb", "Kv_BB", "B's force from B's speed error", gains.bb, all, form);
  const auto add = [&](const char* key, const char* symbol, const char* name, double value, const char* unit,
                       const char* how) {
    form.rows.push_back({key, symbol, name, value, unit, how});
  };
  add("position_gain_per_s", "Kp", "position gain of all four", gains.law.position_gain_per_s, "1/s", "the mean's");
  add("velocity_integral_s", "Ti", "integral time of all four", gains.law.velocity_integral_s, "s", "the mean's");
  add("velocity_filter_hz", "fv", "velocity filter of both sides", gains.law.velocity_filter_hz, "Hz", "the mean's");
  add("loss_with_cross", "", "largest departure with cross gains, part of the response", gains.loss_with_cross, "1",
      "over 200 frequencies to half the rate, Frobenius norm");
  add("loss_independent", "", "the same without cross gains", gains.loss_independent, "1", "as above");
  return form;
}

}  // namespace evenbeam::exporting
