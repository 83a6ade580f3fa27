#include "report/cautions.h"

namespace evenbeam::report {

const std::vector<Caution>& cautions() {
  static const std::vector<Caution> list = {
      {"crush", "A moving bridge crushes.",
       "Keep everybody, hands and tools out of the whole travel of bridge and carriage before an output is enabled, "
       "also for a short push: the bridge can run away when a sign or a scale is wrong."},
      {"stop_in_reach", "Hold to run, stop in reach.",
       "Make first pushes and searches with a hold-to-run control, at the stated level and time, with the emergency "
       "stop tried beforehand and within reach of the person who watches the bridge."},
      {"brakes", "Know what holds.",
       "Check brakes and a tilted or hanging axis before the loops are opened: an axis without force may move by "
       "itself. Brakes that close on one side first, or hold one side only, rack the bridge."},
      {"racking", "Two drives can bend the bridge.",
       "When the sides push against each other the guides and mountings take the force. Stop at unusual noise, heat "
       "or a growing standing force difference, whatever a verdict says."},
      {"no_safety_function", "evenbeam is no safety function.",
       "It computes and records. Thresholds and reactions proposed here protect the machine; they do not protect "
       "people and replace no guard, no safe drive function and no emergency stop."},
      {"defer", "Local rules come first.",
       "Local codes, the machine's own risk assessment, the makers' manuals and licensed or instructed practice "
       "decide what may be done, by whom and how. Where they differ from this text, follow them."},
      {"unknown", "What is not known.",
       "Only what was recorded or stated was judged. Other payloads, temperatures, places along the rails, wear and "
       "faults that no capture shows are not covered. A number without an interval is no more than an estimate."},
  };
  return list;
}

}  // namespace evenbeam::report
