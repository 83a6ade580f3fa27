#include "machine/topology.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <set>

using namespace evenbeam::machine;

namespace {

Machine bolted() {
  Machine m;
  m.span_m = 2;
  m.guides.ends = EndKind::bolted;
  return m;
}

std::set<std::string> refused_by(const Machine& m) {
  std::set<std::string> out;
  for (const char* station : {"ready", "survey", "limits", "nudge", "marks", "square", "fit", "loops", "trips",
                              "rehearse", "causes", "prove", "handover"})
    if (refusal_of(m, station)) out.insert(station);
  return out;
}

}  // namespace

TEST_CASE("each build is supported or refused in one sentence, with what to do instead") {
  CHECK(all_builds().size() == 8);
  const std::set<std::string> line{"ready", "survey", "limits",   "nudge",  "marks", "square",  "fit",
                                   "loops", "trips",  "rehearse", "causes", "prove", "handover"};
  for (const Build& build : all_builds()) {
    CAPTURE(build.name);
    CHECK(build.sentence.starts_with(build.refused.empty() ? "Supported" : "Refused"));
    CHECK(build.sentence.ends_with("."));
    CHECK(build.instead.empty() == build.refused.empty());
    for (const StationWords& change : build.changes) {
      CHECK(line.contains(change.station));
      CHECK(change.words.ends_with("."));
      CHECK(std::find(build.refused.begin(), build.refused.end(), change.station) == build.refused.end());
    }
    for (const std::string& station : build.refused) CHECK(line.contains(station));
  }
}

TEST_CASE("which stations give no answer: by hand for each build") {
  CHECK(builds_of({}).empty());  // unknown ends, one motor and one scale a side
  Machine m = bolted();
  CHECK(builds_of(m).size() == 1);
  CHECK(refused_by(m).empty());
  m.guides.ends = EndKind::pivoted;
  CHECK(refused_by(m).empty());
  m.guides.ends = EndKind::flexure;
  CHECK(refused_by(m).empty());
  m = bolted(), m.a.motors = 2;
  CHECK(builds_of(m).size() == 2);
  CHECK(refused_by(m).empty());
  m = bolted(), m.third_rail = true;
  CHECK(refused_by(m) == std::set<std::string>{"limits", "trips", "rehearse"});
  m = bolted(), m.a.feedback_place = FeedbackPlace::motor, m.b.feedback_place = FeedbackPlace::load;
  CHECK(refused_by(m) == std::set<std::string>{"trips", "rehearse"});
  m.a.feedback_place = FeedbackPlace::unknown;  // not known: not refused
  CHECK(refused_by(m).empty());
  m = bolted(), m.feedback_on_both_sides = false;
  CHECK_FALSE(refused_by(m).contains("limits"));
  CHECK(refused_by(m).contains("nudge"));
  CHECK(refused_by(m).size() == 9);
  m = bolted(), m.common_shaft = true;
  CHECK(refused_by(m).size() == 10);
  for (const char* station : {"ready", "square", "handover"}) CHECK_FALSE(refusal_of(m, station));
  CHECK(refusal_of(m, "loops")->why.find("one motor turns both") != std::string::npos);
}
