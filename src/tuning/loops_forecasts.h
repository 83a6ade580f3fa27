#pragma once
// Every move known, forecast under the settings proposed and under the loops it was recorded with, and what each
// change buys on the way from the second to the first, cheapest first.
#include <vector>

#include "base/finding.h"
#include "tuning/move_forecast.h"
#include "tuning/proposal.h"

namespace evenbeam::tuning {

struct PlaceError {  // share of a place this far off the carriage's
  double off_m = 0;
  double peak_skew_m = 0;  // the worse of both directions
};

struct Forecasts {
  std::vector<MoveForecast> proposed, own;
  std::vector<double>
      payload_known_m;          // of `proposed`: peak with the share of the move's payload; NaN where it has none
  double worst_constant_m = 0;  // largest peak of the recorded moves with the one constant share
  std::vector<base::Row> steps;
  std::string place_move;  // the move of `place_errors`
  std::vector<PlaceError> place_errors;
};

ForecastOptions forecast_options(const recording::Recording* recording, const machine::Machine& machine);
bool is_test_move(const recording::Recording& recording);

Forecasts forecasts(const std::vector<recording::Recording>& recordings, const machine::Machine& machine,
                    const identification::Identified& identified, const Proposal& proposal);

}  // namespace evenbeam::tuning
