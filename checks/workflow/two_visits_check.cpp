// The visit in a year, end to end: the virtual gantry captured anew with other noise, places and phases, and captured
// with a dirty rail and loose joints. The comparison must be silent about the first and name both changes of the
// second. The gantry and its wear are made up; what is checked is that thresholds hold over captures, not a number.
#include <doctest/doctest.h>

#include <algorithm>

#include "journal/compare.h"
#include "workflow/evaluate.h"
#include "workflow/simulate.h"
#include "workflow/small_portal_test.h"

using namespace evenbeam;
using namespace evenbeam::workflow;

namespace {

const Progress silent = [](const std::string&) {};

journal::EvaluationRecord visit(std::uint64_t seed, const std::vector<rehearsal::Defects>& worn) {
  base::MemoryDisk disk;
  disk.write("portal/machine.toml", test::small_portal);
  const Simulated done = simulate(disk, {.places = places_of("portal"), .seed = seed, .defects = worn}, silent);
  const Evaluation e = evaluate(load_job(disk, places_of(done.folder), silent), stations(), silent);
  return {.program = "evenbeam check", .result = result_of(e)};
}

std::vector<std::string> told_of_service(const journal::Comparison& c) {
  std::vector<std::string> out;
  for (const journal::Change& change : c.effects)
    if (change.place == "trips.service") out.push_back(change.text);
  return out;
}

}  // namespace

// Half a minute: workflow_check --no-skip --test-case="*two visits*"
TEST_CASE("two visits: another day is no change, a dirty rail and loose joints are both named" * doctest::skip()) {
  const journal::EvaluationRecord first = visit(1, {});
  for (std::uint64_t seed : {2u, 3u, 4u}) {
    INFO("seed " << seed);
    CHECK(told_of_service(compare(first, visit(seed, {}))).empty());
  }
  const rehearsal::Defects worn{
      .name = "a year", .changes = {{"side_a", "friction_factor", 1.8}, {"bridge", "yaw_stiffness_factor", 0.8}}};
  const std::vector<std::string> told = told_of_service(compare(first, visit(5, {worn})));
  REQUIRE(told.size() == 2);
  CHECK(told[0].starts_with("friction of A"));
  CHECK(told[1].starts_with("yaw frequency"));
}
