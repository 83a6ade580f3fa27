// What to do now while stations are still at work, against what the whole evaluation says in the end.
#include <doctest/doctest.h>

#include <algorithm>
#include <random>

#include "workflow/gates.h"
#include "workflow/next_step.h"

namespace evenbeam::workflow {
namespace {

// Verdicts drawn at random; the stations drawn as pending say nothing yet in `so_far`.
struct Drawn {
  Evaluation so_far, whole;
};

// `open`: how many in ten lack their capture.
Drawn drawn(std::mt19937& random, int open = 4) {
  Drawn out;
  out.whole.stations = {{.result = {.name = "recordings", .verdict = base::Verdict::pass}}};
  if (random() % 10 == 0) {
    base::StationResult& recordings = out.whole.stations.front().result;
    recordings.verdict = base::Verdict::attention;
    recordings.findings = {{.id = "unread_a.csv", .verdict = base::Verdict::attention}};
  }
  out.so_far.stations = out.whole.stations;
  const int stops = int(random() % 6);
  for (const Station& station : stations()) {
    const int draw = int(random() % 10);
    const base::Verdict verdict = draw < stops && draw < 2 ? base::Verdict::stop
                                  : draw < 2 + open        ? base::Verdict::not_done
                                  : draw < 8               ? base::Verdict::attention
                                                           : base::Verdict::pass;
    base::StationOutcome outcome{.result = {.name = station.name, .verdict = verdict}};
    outcome.result.findings = {{.id = "one", .verdict = verdict, .text = station.name + " says so."}};
    out.whole.stations.push_back(outcome);
    if (random() % 3 != 0)
      out.so_far.stations.push_back(outcome);
    else
      out.so_far.pending.push_back(station.name);
  }
  return out;
}

// Whether a station at work will be found to stop, or to lack its capture.
bool asks_first(const Drawn& one) {
  return std::any_of(one.so_far.pending.begin(), one.so_far.pending.end(), [&](const std::string& name) {
    const base::Verdict verdict = find_station(one.whole, name)->verdict;
    return verdict == base::Verdict::stop || verdict == base::Verdict::not_done;
  });
}

}  // namespace

TEST_CASE(
    "a capture asked for early is the one asked for in the end, unless a stop comes that does not hold it back") {
  std::mt19937 random(20260);
  int early = 0, overtaken = 0;
  for (int i = 0; i < 5000; ++i) {
    const Drawn one = drawn(random);
    const NextStep now = next_step_so_far(one.so_far, stations()), end = next_step(one.whole, stations());
    CAPTURE(i);
    if (one.so_far.pending.empty() || now.kind != NextStep::Kind::make_capture) continue;
    ++early;
    CHECK(held_by(now.station, one.whole, stations()).empty());
    if (end.kind == NextStep::Kind::answer_stop) {
      ++overtaken;
      continue;
    }
    CHECK(end.kind == NextStep::Kind::make_capture);
    CHECK(end.station == now.station);
    CHECK(end.what == now.what);
  }
  CHECK(early > 200);
  CHECK(overtaken > 5);
}

TEST_CASE("an attention told early is the one told in the end, unless a station at work stops or lacks a capture") {
  std::mt19937 random(20262);
  int early = 0, overtaken = 0;
  for (int i = 0; i < 10000; ++i) {
    const Drawn one = drawn(random, i % 2);
    const NextStep now = next_step_so_far(one.so_far, stations()), end = next_step(one.whole, stations());
    CAPTURE(i);
    if (one.so_far.pending.empty() || now.kind != NextStep::Kind::answer_attention) continue;
    ++early;
    CHECK(held_by(now.station, one.whole, stations()).empty());
    const bool same = end.station == now.station && end.what == now.what;
    if (!same) ++overtaken;
    CHECK((same || asks_first(one)));
  }
  CHECK(early > 200);
  CHECK(overtaken > 5);
}

TEST_CASE("a stop told early is the stop told in the end") {
  std::mt19937 random(20261);
  int early = 0;
  for (int i = 0; i < 5000; ++i) {
    const Drawn one = drawn(random);
    const NextStep now = next_step_so_far(one.so_far, stations()), end = next_step(one.whole, stations());
    if (now.kind != NextStep::Kind::answer_stop) continue;
    ++early;
    CHECK(end.station == now.station);
  }
  CHECK(early > 100);
}

}  // namespace evenbeam::workflow
