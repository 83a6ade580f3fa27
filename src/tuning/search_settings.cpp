#include "tuning/search_settings.h"

#include <algorithm>
#include <cmath>

namespace evenbeam::tuning {

using Eigen::Index;
using Eigen::VectorXd;
using machine::Settings;

std::vector<SettingRange> ranges_of(const Settings& s) {
  const double top_hz = 0.45 / s.period_s;
  std::vector<SettingRange> out;
  for (const machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    out.insert(out.end(), {SettingRange{}, SettingRange{20 * s.period_s}, SettingRange{}, SettingRange{20, top_hz}});
    for (size_t i = 0; i < c->filters.size(); ++i)
      out.insert(out.end(), {SettingRange{10, top_hz / 2}, SettingRange{0.05, 2}, SettingRange{0.1, 2}});
  }
  return out;
}

std::vector<double*> variables(Settings& s) {
  std::vector<double*> out;
  for (machine::CoordinateLoop* c : {&s.mean, &s.skew}) {
    out.insert(out.end(), {&c->velocity_gain_n_s_per_m, &c->velocity_integral_s, &c->position_gain_per_s,
                           &c->velocity_filter_hz});
    for (machine::Biquad& f : c->filters) out.insert(out.end(), {&f.hz, &f.zn, &f.zd});
  }
  return out;
}

Index search_variables(const Settings& start) {
  return static_cast<Index>(8 + 3 * (start.mean.filters.size() + start.skew.filters.size()));
}

Settings settings_at(const Settings& start, const VectorXd& x) {
  Settings s = start;
  const auto all = variables(s);
  for (size_t i = 0; i < all.size(); ++i) *all[i] *= std::exp(x[static_cast<Index>(i)]);
  return s;
}

VectorXd logarithms(const Settings& start, const Settings& settings) {
  Settings from = start, to = settings;
  const auto low = variables(from), high = variables(to);
  VectorXd x(static_cast<Index>(low.size()));
  for (size_t i = 0; i < low.size(); ++i) x[static_cast<Index>(i)] = std::log(*high[i] / *low[i]);
  return x;
}

Settings inside_ranges(Settings start) {
  const std::vector<SettingRange> ranges = ranges_of(start);
  const auto x = variables(start);
  for (size_t i = 0; i < x.size(); ++i) *x[i] = std::clamp(*x[i], ranges[i].low, ranges[i].high);
  return start;
}

}  // namespace evenbeam::tuning
