#pragma once
// The one thing to do now. In this order: answer the first open stop; make the capture of the first station of the
// line that can be answered and is not; send in the fault of the program that ended a station; do what the first
// attention asks; accept the settings. What is above a station and unknown by a fault might be a stop: it holds back
// that station's capture.
#include <string>
#include <vector>

#include "workflow/evaluation.h"
#include "workflow/stations.h"

namespace evenbeam::workflow {

struct NextStep {
  enum class Kind { answer_stop, make_capture, report_fault, answer_attention, accept_settings, nothing };
  Kind kind = Kind::nothing;
  std::string station;                  // the station it serves; empty where none
  std::string what;                     // the one sentence
  std::string why;                      // what was seen that asks for it
  std::vector<std::string> holds_back;  // stations that wait for it
  std::optional<CaptureSheet> capture;  // where a capture is to be made
  std::vector<std::string> commands;    // the way to it from off, by the job's table of rules: "enable: both sides"
  std::vector<std::string> cautions;    // before anything moves
  // Besides: the capture that would narrow most a minute what the fit does not know, where loops found one; not asked
  // for, offered.
  std::string sharpen;
};

NextStep next_step(const Evaluation& evaluation, const std::vector<Station>& line);
// While stations are pending: a stop that no station before it in the line can overtake; or the capture that the
// whole evaluation will ask for unless it finds a stop, where it needs no pending station, so that no such stop can
// hold it back; or the attention that it will name unless a station at work finds a stop or lacks its capture; else
// that it is being worked out. What a pending station said before is not asked.
NextStep next_step_so_far(const Evaluation& evaluation, const std::vector<Station>& line);

}  // namespace evenbeam::workflow
