#include "acceptance/positioning_uncertainty.h"

#include <algorithm>
#include <cmath>

#include "math/random.h"

namespace evenbeam::acceptance {

namespace {

struct Contribution {
  std::string name;
  bool stated = false;
  SetUp alone;  // the set-up with nothing else in it
};

std::vector<Contribution> contributions_of(const SetUp& s) {
  std::vector<Contribution> out;
  out.push_back({"device, a reading", s.device_m.has_value(), {.device_m = s.device_m}});
  out.push_back({"device, with length", s.device_per_length.has_value(), {.device_per_length = s.device_per_length}});
  out.push_back({"alignment", s.alignment_offset_m.has_value(), {.alignment_offset_m = s.alignment_offset_m}});
  out.push_back({"material temperature",
                 s.temperature_doubt_k && s.expansion_per_k,
                 {.temperature_doubt_k = s.temperature_doubt_k, .expansion_per_k = s.expansion_per_k}});
  out.push_back(
      {"expansion coefficient",
       s.temperature_from_20_k && s.expansion_doubt_per_k,
       {.temperature_from_20_k = s.temperature_from_20_k, .expansion_doubt_per_k = s.expansion_doubt_per_k}});
  out.push_back({"drift", s.drift_m.has_value(), {.drift_m = s.drift_m}});
  return out;
}

// One trial's error of every reading, added in place.
void disturb(std::vector<TargetRuns>& runs, const SetUp& s, math::Random& random) {
  const double first_m = runs.front().target_m, length_m = runs.back().target_m - first_m;
  double slope = s.device_per_length.value_or(0) / 2 * random.normal();
  if (length_m > 0) {
    const double angle = s.alignment_offset_m.value_or(0) / length_m * random.uniform();
    slope -= angle * angle / 2;
  }
  slope += s.expansion_per_k.value_or(0) * s.temperature_doubt_k.value_or(0) * random.uniform(-1, 1);
  slope += s.temperature_from_20_k.value_or(0) * s.expansion_doubt_per_k.value_or(0) * random.uniform(-1, 1);
  const double drift_m = s.drift_m.value_or(0);
  for (TargetRuns& target : runs) {
    const double common_m = slope * (target.target_m - first_m) + s.device_m.value_or(0) / 2 * random.normal();
    for (double& x : target.up_m) x += common_m + drift_m * random.uniform(-0.5, 0.5);
    for (double& x : target.down_m) x += common_m + drift_m * random.uniform(-0.5, 0.5);
  }
}

std::vector<double> values_of(const std::vector<TargetRuns>& runs) {
  std::vector<double> out;
  for (const NamedParameter& parameter : named_parameters(positioning(runs))) out.push_back(parameter.value_m);
  return out;
}

std::vector<double> expanded_by(const std::vector<TargetRuns>& runs, const SetUp& set_up, long trials,
                                std::uint64_t seed) {
  math::Random random(seed);
  const std::vector<double> undisturbed = values_of(runs);
  std::vector<double> sum(undisturbed.size(), 0.0), squares(undisturbed.size(), 0.0);
  for (long trial = 0; trial < trials; ++trial) {
    std::vector<TargetRuns> disturbed = runs;
    disturb(disturbed, set_up, random);
    const std::vector<double> values = values_of(disturbed);
    for (std::size_t k = 0; k < values.size(); ++k) {
      const double change = values[k] - undisturbed[k];
      sum[k] += change;
      squares[k] += change * change;
    }
  }
  const double n = double(trials);
  for (std::size_t k = 0; k < sum.size(); ++k)
    sum[k] = 2 * std::sqrt(std::max(0.0, (squares[k] - sum[k] * sum[k] / n) / (n - 1)));
  return sum;
}

// Place of A, or of A rising or falling where one direction was measured, among the named parameters (last three).
std::size_t accuracy_place(const std::vector<double>& values) {
  for (const std::size_t place : {values.size() - 1, values.size() - 3, values.size() - 2})
    if (std::isfinite(values[place])) return place;
  return values.size() - 1;
}

}  // namespace

ParameterUncertainty positioning_uncertainty(const std::vector<TargetRuns>& runs, const SetUp& set_up, long trials,
                                             std::uint64_t seed) {
  ParameterUncertainty out;
  const std::size_t place = accuracy_place(values_of(runs));
  double largest_m = 0;
  for (const Contribution& c : contributions_of(set_up)) {
    (c.stated ? out.counted : out.not_stated).push_back(c.name);
    if (!c.stated) continue;
    const double alone_m = expanded_by(runs, c.alone, trials / 4, seed)[place];
    if (alone_m > largest_m) {
      largest_m = alone_m;
      out.largest = c.name;
    }
  }
  out.expanded_m =
      out.counted.empty() ? std::vector<double>(12, std::nan("")) : expanded_by(runs, set_up, trials, seed);
  return out;
}

}  // namespace evenbeam::acceptance
