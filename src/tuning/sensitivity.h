#pragma once
// Robustness of the 2x2 sampled loop as one number over frequency: the largest singular value of
//   output side  S_o = (I + G C)^-1,     input side  S_i = D^-1 (I + C G)^-1 D,  D = diag(peak forces),
// G positions per commanded force with hold and delay, C the loop law. Its peak is the inverse of the distance to
// instability in the worst direction: gain and phase margins of each side and of both at once follow from it
// (gain >= M/(M-1), phase >= 2 asin(1/(2M)): Astrom and Murray, Feedback Systems, ch. 10, from memory).
// From a model G is exact on any grid; from a measured response only at its lines.
#include <functional>
#include <vector>

#include "dynamics/linear_response.h"
#include "dynamics/plant.h"
#include "dynamics/response_lines.h"
#include "machine/settings.h"
#include "math/complex2x2.h"

namespace evenbeam::tuning {

struct PeakSensitivity {
  double peak = 0;  // the worse of both sides; infinite where I + GC is singular on the grid
  double at_hz = 0;
};

// g[i] at hz[i].
PeakSensitivity peak_sensitivity(const std::vector<double>& hz, const std::vector<math::Complex2x2>& g,
                                 const machine::Settings& settings);

// A plant answers alike under all gains: its responses on the grid are found once and asked many times.
// Log grid of 361 lines from 0.2 Hz to just below the Nyquist frequency.
struct PlantLines {
  dynamics::Plant plant;
  dynamics::ResponseLines lines;
  std::vector<dynamics::SideResponse> g;
};
PlantLines plant_lines(const dynamics::Plant& plant, double period_s);

// The law of mean and skew on those lines, shared by all plants with the same lines (the share is taken later).
struct LawLines {
  std::vector<math::Complex> mean, skew;
};
LawLines law_lines(const dynamics::ResponseLines& lines, const machine::Settings& settings);

PeakSensitivity peak_on_lines(const PlantLines& plant, const machine::Settings& settings, const LawLines& law);
// Largest on the grid, then eight lines between the neighbours of the largest, five times over.
PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings, const LawLines& law);
PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings);
PeakSensitivity peak_sensitivity(const dynamics::Plant& plant, const machine::Settings& settings);

// The same with another law of the two sides, C at angular frequency in rad/s; period and peak forces of `settings`.
PeakSensitivity peak_sensitivity(const PlantLines& plant, const machine::Settings& settings,
                                 const std::function<math::Complex2x2(double)>& law);

// The worse side's largest singular value at one frequency, model.
double sensitivity_at(const dynamics::Plant& plant, const machine::Settings& settings, double hz);
// The same for many frequencies of one plant; the model holds for the settings' period.
double sensitivity_at(const dynamics::ResponseModel& model, const machine::Settings& settings, double hz);

}  // namespace evenbeam::tuning
