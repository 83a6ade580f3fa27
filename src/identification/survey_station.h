#pragma once
// Station `survey`: what machine is this? Moving mass, force share along y, modes and force budget from the motion
// fit and the grey-box fit, held against the papers. Values in real newtons (nameplate where the common force scale
// is unknown). Keys: docs/formats.md.
//   moving mass = M g,  g = real over nameplate newton;   share(y) = 1/2 - S(y)/(M L)  does not depend on g
//   peak force of a side, commanded = (share M a + Coulomb + viscous v)/(1 +- e)
#include <optional>
#include <vector>

#include "base/figure.h"
#include "identification/grey_box.h"
#include "identification/measured_modes.h"
#include "identification/motion_fit.h"
#include "machine/machine.h"
#include "math/estimate.h"
#include "recording/recording.h"
#include "signal/frequency_response.h"

namespace evenbeam::identification {

struct SurveyInput {
  const MotionFit& motion;                     // may be not done
  const GreyFit& grey;                         // may be not done
  std::optional<math::Estimate> force_scale;   // g, mean of both sides; absent: nameplate newtons
  const signal::Response* response = nullptr;  // for coherence, where measured
};

// Share of A that makes no yaw, real newtons, without payload, at `places` places over the carriage's range.
struct SharePlace {
  double y_m = 0;
  math::Estimate share;
  std::optional<double> papers;  // by the papers, where they say enough
};
std::vector<SharePlace> share_along_y(const MotionFit& motion, const machine::Machine& machine, int places = 9);

// A mode: read from the response where that shows it, else of the fitted plant; whether the measured lines reach it.
struct SurveyMode {
  double hz = 0, damping = 0;
  std::string name;   // dynamics/modes.h
  std::string words;  // for a mechanic
  bool seen = false;
  MeasuredMode measured;  // what the response itself says
};
std::vector<SurveyMode> survey_modes(const GreyFit& grey, const signal::Response* response = nullptr);

// What the drives must give at the worst carriage place and payload.
struct ForceBudget {
  double acceleration_m_per_s2 = 0;
  bool stated = false;              // the machine states it; else it is the largest that leaves the reserve
  double use = 0;                   // largest part of a side's peak, 0..
  double y_m = 0, payload_kg = 0;   // where
  bool side_a = true;               // which side
  double needed_n = 0, peak_n = 0;  // commanded
};
// Part of the peak force that control must keep (common practice, no source).
inline constexpr double force_reserve = 0.2;
// nullopt where the motion fit or a peak force is missing.
std::optional<ForceBudget> force_budget(const MotionFit& motion, const machine::Machine& machine);

base::StationOutcome survey_station(const std::vector<recording::Recording>& recordings,
                                    const machine::Machine& machine, const SurveyInput& input);

}  // namespace evenbeam::identification
