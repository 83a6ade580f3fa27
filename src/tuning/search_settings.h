#pragma once
// The settings that the gain search moves, as numbers x: logarithms over those of the start (internal to tuning).
#include <Eigen/Core>
#include <limits>
#include <vector>

#include "machine/settings.h"

namespace evenbeam::tuning {

Eigen::Index search_variables(const machine::Settings& start);
machine::Settings settings_at(const machine::Settings& start, const Eigen::VectorXd& x);
// x of settings with as many filters as the start.
Eigen::VectorXd logarithms(const machine::Settings& start, const machine::Settings& settings);
// The start with every setting well inside its range.
machine::Settings inside_ranges(machine::Settings start);

// Ranges in which the law and its person can follow a setting: damping 0.05..2 keeps a notch wider than what carriage
// and temperature move a mode (common practice, no source).
struct SettingRange {
  double low = 0, high = std::numeric_limits<double>::infinity();
};
std::vector<SettingRange> ranges_of(const machine::Settings& settings);
// The settings that x stands for, in its order: of each coordinate gain, integral time, position gain, velocity
// filter, then each of its filters.
std::vector<double*> variables(machine::Settings& settings);

}  // namespace evenbeam::tuning
