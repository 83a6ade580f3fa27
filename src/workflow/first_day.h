#pragma once
// The demo's first day, from bare rails to handover, played into a job folder step by step: each step puts files
// there as an engineer would and has the job commissioned. What is wrong on purpose must be held back by the stop
// that the day names; whether it was is read from the evaluation, never from the day. Data: demo/first_day.
#include <string>
#include <vector>

#include "workflow/commission.h"

namespace evenbeam::workflow {

struct DayStep {
  std::string at, what;
  std::vector<std::string> ready;                  // pieces that ready.toml then holds; empty: as it was
  std::vector<std::string> put, add, turned;       // "file here as file in the job"
  std::vector<std::string> put_demo;               // files of the demo's job; "squareness/*" for all below
  std::string wrong, caught_station, caught_stop;  // empty where nothing is wrong on purpose
};
std::vector<DayStep> first_day();

struct DayPlayed {
  DayStep step;
  Commissioned done;
  bool caught = false;       // the stop that the day names is there and not overridden
  std::string caught_words;  // its finding
};
using AfterStep = std::function<void(const DayPlayed&)>;

// Into the folder of `request`, which must not be there yet. Its time is used for every entry.
std::vector<DayPlayed> play_first_day(base::Disk& disk, const CommissionRequest& request, const AfterStep& after,
                                      const Progress& progress);

// A capture with the sign of one column turned, all else byte for byte: what the same pushes look like where that
// side's motor is connected the other way round (output -u there did what +u does here).
std::string with_column_turned(const std::string& csv, const std::string& column);

}  // namespace evenbeam::workflow
