#pragma once
// How much skew the fit's doubt may add to a move under given settings, and of which unknown it comes.
//   g_k(t) = d skew error(t)/d p_k, by a small step of each uncertain number on the virtual gantry
//   s(t)^2 = |sum_k g_k(t) along_k|^2 + sum over Coulomb frictions (g_k(t) sd_k)^2      (along: tuning/joint_doubt.h)
//   doubt  = 1.96 max over t of s(t)
// With C the covariance, knowing unknown k exactly would take (g' C_k)^2/C_kk from s^2 at that time: its part. Parts
// of unknowns that err together overlap, so that they do not add up to one. To first order (derived).
#include <vector>

#include "tuning/joint_doubt.h"
#include "tuning/move_forecast.h"

namespace evenbeam::tuning {

// Of one quantity over time (or of one number) by uncertain part, per unit of number_of.
struct DoubtSlopes {
  std::vector<Part> parts;
  std::vector<std::vector<double>> slope;
  double step_s = 0;  // between entries; 0: one number
  double carriage_y_m = 0, payload_kg = 0;
};
struct DoubtCause {
  Part part = Part::fixed_mass;
  double of_variance = 0;  // 0..1
};
struct DoubtSize {
  double half_width = 0;                    // 95 %; m of skew, or of the one number
  double carriage_y_m = 0, payload_kg = 0;  // where
  double at_s = 0;
  std::vector<DoubtCause> causes;  // the largest first
};

DoubtSlopes skew_slopes(const identification::Identified& identified, const ForecastMove& move,
                        const machine::Settings& settings);
// Of the peak sensitivity with the carriage and payload of `where`.
DoubtSlopes sensitivity_slopes(const identification::Identified& identified, double carriage_y_m, double payload_kg,
                               const machine::Settings& settings);
// The largest of several, each with a move of its own.
DoubtSize worst_doubt(const std::vector<DoubtSlopes>& slopes, const identification::Identified& identified);
// `identified` may have other intervals than the fit that the slopes are of, not other numbers.
DoubtSize doubt_size(const DoubtSlopes& slopes, const identification::Identified& identified);

}  // namespace evenbeam::tuning
