#include "recording/synthetic_test.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace evenbeam::recording::test {
namespace {

constexpr double kCount_m = 0.5e-6;
double counted(double x_m) { return kCount_m * std::round(x_m / kCount_m); }

// Speed of a stroke with ramps of 50 ms; back again after a rest.
double speed(double t) {
  const auto trapezoid = [](double s) { return 0.4 * std::clamp(std::min(s / 0.05, (0.25 - s) / 0.05), 0.0, 1.0); };
  return t < 0.3 ? trapezoid(t - 0.02) : -trapezoid(t - 0.32);
}

std::string number(double value, int decimals, const Form& form) {
  std::string text = fmt::format("{:.{}f}", value, decimals);
  if (form.plus_signs && value >= 0) text = "+" + text;
  std::replace(text.begin(), text.end(), '.', form.decimal_sign);
  return form.quoted ? "\"" + text + "\"" : text;
}

std::string cell(const Capture& c, const Form& form, int column, std::size_t k) {
  const double time_s = static_cast<double>(k) * c.period_s;
  switch (column) {
    case 0:
      return form.time.factor == 0 ? number(form.first_sample + static_cast<double>(k), 0, form)
                                   : number(time_s * form.time.factor, form.time.decimals, form);
    case 1:
      return number(c.reference_a_m[k] * form.position.factor, form.position.decimals, form);
    case 2:
      return number(c.reference_b_m[k] * form.position.factor, form.position.decimals, form);
    case 3:
      return number(c.position_a_m[k] * form.position.factor, form.position.decimals, form);
    case 4:
      return number(c.position_b_m[k] * form.position.factor, form.position.decimals, form);
    case 5:
      return number(c.force_a_n[k] * form.output_a.factor, form.output_a.decimals, form);
    case 6:
      return number(c.force_b_n[k] * form.output_b.factor, form.output_b.decimals, form);
    default:
      return number(23.5, 1, form);
  }
}

}  // namespace

Capture capture(double period_s) {
  Capture c;
  c.period_s = period_s;
  double x = 0.0123;
  const auto n = static_cast<std::size_t>(std::lround(0.62 / period_s));
  for (std::size_t k = 0; k < n; ++k) {
    const double t = static_cast<double>(k) * period_s, v = speed(t);
    c.reference_a_m.push_back(counted(x));
    c.reference_b_m.push_back(counted(x + 0.0021));
    c.position_a_m.push_back(counted(x - 2e-3 * v + 3e-6 * std::sin(700 * t)));
    c.position_b_m.push_back(counted(x + 0.0017 - 2.1e-3 * v + 4e-6 * std::cos(900 * t)));
    c.force_a_n.push_back(0.25 * std::round(4 * (300 * v + 40 * std::sin(811 * t))));
    c.force_b_n.push_back(0.25 * std::round(4 * (420 * v + 25 * std::cos(613 * t) - 30)));
    x += v * period_s;
  }
  return c;
}

machine::Machine machine() {
  machine::Machine m;
  m.span_m = 2;
  m.a.count_m = m.b.count_m = kCount_m;
  m.a.peak_force_n = 2000;
  m.b.peak_force_n = 1500;
  m.a.full_output_a = 8;
  m.b.full_output_a = 10;
  m.servo_period_s = 0.00025;
  return m;
}

std::string text_of(const Capture& c, const Form& form) {
  std::string text = form.before;
  const auto line = [&](const std::string& content) {
    text += content + (form.trailing_separator ? std::string(1, form.separator) : "") + form.line_end;
  };
  std::string header;
  for (std::size_t i = 0; i < form.names.size(); ++i)
    header += (i ? std::string(1, form.separator) : "") + form.names[i];
  if (!form.names.empty()) line(header);
  if (!form.unit_row.empty()) line(form.unit_row);
  for (std::size_t k = 0; k < c.position_a_m.size(); ++k) {
    std::string row;
    for (std::size_t i = 0; i < form.order.size(); ++i)
      row += (i ? std::string(1, form.separator) : "") + cell(c, form, form.order[i], k);
    line(row);
  }
  if (!form.last_line_end) text.resize(text.size() - form.line_end.size());
  return text;
}

}  // namespace evenbeam::recording::test
