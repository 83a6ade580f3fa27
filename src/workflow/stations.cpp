#include "workflow/stations.h"

#include <fmt/format.h>

#include "workflow/capture_sheets.h"
#include "workflow/station_calls.h"

namespace evenbeam::workflow {

const std::vector<Station>& stations() {
  static const std::vector<Station> line{
      {"ready", "Is it fit to be moved?", {}, {}, ready_sheet(), ask_ready},
      {"survey", "What machine is this?", {"ready", "nudge"}, {}, survey_sheet(), ask_survey},
      {"limits",
       "How much skew and yaw force do guides and mountings take?",
       {},
       {"survey", "fit"},
       limits_sheet(),
       ask_limits},
      {"nudge",
       "Do both sides agree in sign, scale, strength and friction?",
       {"ready", "limits"},
       {},
       nudge_sheet(),
       ask_nudge},
      {"marks",
       "Where are the reference marks, and can a search always see both?",
       {"nudge"},
       {"fit", "limits", "square"},
       marks_sheet(),
       ask_marks},
      {"square", "How square is it, and what is to be corrected?", {"marks"}, {"limits"}, square_sheet(), ask_square},
      {"fit",
       "What are the machine's real parameters, and how sure is that?",
       {"nudge"},
       {"survey", "nudge"},
       fit_sheet(),
       ask_fit},
      {"loops",
       "Which share, gains, filters and feed-forward?",
       {"nudge", "fit"},
       {"fit", "limits"},
       loops_sheet(),
       ask_loops},
      {"trips",
       "Which thresholds and reactions hold the largest skew of any fault?",
       {"limits", "loops"},
       {"fit", "loops", "limits"},
       trips_sheet(),
       ask_trips},
      {"rehearse",
       "Which commands go to which side, in what state?",
       {},
       {"fit", "loops", "limits"},
       rehearse_sheet(),
       ask_rehearse},
      {"causes", "Why do the sides fight?", {}, {"nudge", "fit", "marks"}, causes_sheet(), ask_causes},
      {"prove",
       "Does it do what was promised?",
       {"loops", "trips"},
       {"fit", "loops", "limits"},
       prove_sheet(),
       ask_prove},
      {"handover",
       "What does the next person need?",
       {"prove"},
       {"fit", "marks", "loops", "trips", "square", "prove"},
       handover_sheet(),
       ask_handover},
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
