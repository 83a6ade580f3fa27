#include "workflow/stations.h"

#include <fmt/format.h>

#include "workflow/capture_sheets.h"
#include "workflow/station_calls.h"

namespace evenbeam::workflow {
namespace {

using enum recording::RunKind;

std::vector<recording::RunKind> every_kind() {
  return {unknown, nudge, multisine, search, test_move, slow_jog, skew_step, fault, one_side, standstill, enabling};
}

std::vector<recording::RunKind> every_kind_and_circles() {
  std::vector<recording::RunKind> kinds = every_kind();
  kinds.push_back(circle);
  return kinds;
}

}  // namespace

const std::vector<Station>& stations() {
  static const std::vector<Station> line{
      {"ready",
       "Is it fit to be moved?",
       {},
       {"limits", "fit"},  // of what has been measured before; on a first day they have nothing to say
       ready_sheet(),
       ask_ready,
       {every_kind(), false, true},
       true},
      {"survey", "What machine is this?", {"ready", "nudge"}, {}, survey_sheet(), ask_survey, {every_kind(), true}},
      {"limits",
       "How much skew and yaw force do guides and mountings take?",
       {},
       {"fit"},
       limits_sheet(),
       ask_limits,
       {{test_move, slow_jog, standstill}, true}},
      {"nudge",
       "Do both sides agree in sign, scale, strength and friction?",
       {"ready", "limits"},
       {},
       nudge_sheet(),
       ask_nudge,
       {every_kind(), true}},
      {"marks",
       "Where are the reference marks, and can a search always see both?",
       {"nudge"},
       {"fit", "limits", "square"},
       marks_sheet(),
       ask_marks,
       {every_kind(), true, true}},
      {"square",
       "How square is it, and what is to be corrected?",
       {"marks"},
       {"limits"},
       square_sheet(),
       ask_square,
       {{}, false, true}},
      {"fit",
       "What are the machine's real parameters, and how sure is that?",
       {"nudge"},
       {},
       fit_sheet(),
       ask_fit,
       {every_kind(), true}},
      {"loops",
       "Which share, gains, filters and feed-forward?",
       {"nudge", "fit"},
       {"fit", "limits"},
       loops_sheet(),
       ask_loops,
       {every_kind(), true}},
      {"trips",
       "Which thresholds and reactions hold the largest skew of any fault?",
       {"limits", "loops"},
       {"fit", "loops", "limits"},
       trips_sheet(),
       ask_trips,
       {every_kind(), true}},
      {"rehearse",
       "Which commands go to which side, in what state?",
       {},
       {"fit", "loops", "limits"},
       rehearse_sheet(),
       ask_rehearse,
       {{}, true, true}},
      {"causes",
       "Why do the sides fight?",
       {},
       {"ready", "nudge", "fit", "marks", "survey", "square", "loops", "trips"},
       causes_sheet(),
       ask_causes,
       {every_kind(), true},
       true},
      {"prove",
       "Does it do what was promised?",
       {"loops", "trips"},
       {"fit", "marks", "loops", "limits"},
       prove_sheet(),
       ask_prove,
       {every_kind_and_circles(), false, true}},
      {"handover",
       "What does the next person need?",
       {"prove"},
       {"ready", "survey", "limits", "nudge", "marks", "square", "fit", "loops", "trips", "rehearse", "causes",
        "prove"},
       handover_sheet(),
       ask_handover,
       {},
       true},
  };
  return line;
}

base::StationOutcome not_done(const Station& station) {
  const CaptureSheet& c = station.capture;
  base::Finding finding{.id = "not_built",
                        .verdict = base::Verdict::not_done,
                        .text = fmt::format("Not in this version yet. The question: {}", station.question),
                        .next = fmt::format("{}. Side: {}. Level: {}. Time: {}. Record: {}. Watch: {}.", c.move,
                                            c.side, c.level, c.duration, c.record, c.watch)};
  return {.result = {.name = station.name, .verdict = base::Verdict::not_done, .findings = {finding}}};
}

}  // namespace evenbeam::workflow
