#pragma once
// The capture to make next: of a handful that the controller can make, the one that takes most a minute from the skew
// which the fit's doubt may add to the machine's own moves (tuning/skew_doubt.h), with the intervals to expect after
// it (identification/capture_gain.h). Where a plant that the fit allows is beyond the certificate's limit, that doubt
// is the peak sensitivity's there.
//   test moves of the machine's own kind, carriage at either end of its range, empty and with full payload
//   a slow jog both ways at three speeds
//   the multisines at hand again, twice as long, as loud as the limits allow
// Each is foreseen on the fitted machine (multisines: as they were recorded, times the level) and left out where it
// would take more than half of the skew allowed, more than 0.9 of a peak force, or more way or speed than stated.
// Not proposed: multisines at another carriage place, since the fit reads the response of one place alone.
// Nothing is proposed where no response was fitted: the multisines come first then.
// Minutes: common practice, no source.
#include <optional>
#include <string>
#include <vector>

#include "identification/capture_gain.h"
#include "tuning/certificate.h"
#include "tuning/proposal.h"
#include "tuning/skew_doubt.h"

namespace evenbeam::tuning {

struct CaptureLimits {
  std::optional<double> skew_m;  // allowable, of station limits
};

struct ProposedCapture {
  recording::RunKind kind = recording::RunKind::unknown;
  double carriage_y_m = 0, payload_kg = 0;
  double level = 1;       // multisine: times that of the captures at hand; else of the move's own size
  double duration_s = 0;  // all its files together
  double minutes = 0;     // with setting up
  double force_part = 0, skew_m = 0, stroke_m = 0, speed_m_per_s = 0;  // foreseen peaks; force of peak, worse side
  std::string bound_by;  // multisine: the limit that sets the level; "" where it is as recorded
  std::string left_out;  // why it is not proposed
  double doubt = 0;      // expected after it
  identification::ForeseenCapture foreseen;
};

struct IntervalChange {
  std::string key, unit;
  double value = 0, now = 0, expected = 0;  // half-widths
};

struct CapturePlan {
  bool done = false;
  std::string reason = "no settings were found, so that nothing says which number matters";
  bool by_sensitivity = false;  // else by skew
  std::string move;
  DoubtSize now;
  std::vector<ProposedCapture> captures;  // the most worth a minute first, those left out last
  std::vector<IntervalChange> intervals;  // after the first, most narrowed first
};

// What decides: of the peak sensitivity where the proofs found it beyond its limit; else of the move's first stroke
// where the carriage stood, and with the carriage at either end of its range, empty at one and full at the other.
std::vector<DoubtSlopes> deciding_slopes(const machine::Machine& machine,
                                         const identification::Identified& identified, const Proposal& proposal,
                                         const ForecastMove& move, const Proofs& proofs);

CapturePlan plan_next_capture(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                              const identification::Identified& identified, const Proposal& proposal,
                              const std::optional<ForecastMove>& move, const Proofs& proofs,
                              const CaptureLimits& limits);

// The fit's intervals by name, mean-scale newtons, at the places that settings are made for.
std::vector<IntervalChange> interval_changes(const identification::Identified& now,
                                             const identification::Identified& after,
                                             const machine::Machine& machine);

}  // namespace evenbeam::tuning
