// The next capture proposed for the demo's machine (demo/generator): from captures with the carriage at one place, a
// move elsewhere; never beyond the limits; nothing made up where a limit is unknown.
#include <doctest/doctest.h>

#include <algorithm>

#include "../demo_job.h"
#include "tuning/next_capture.h"
#include "tuning/next_capture_words.h"

namespace evenbeam::tuning {
namespace {

// Without the moves with the carriage elsewhere.
struct Asked {
  checks::DemoJob job = checks::demo_job();
  identification::Identified id;
  Proposal proposal;
  std::optional<ForecastMove> move;
  Asked() {
    std::erase_if(job.recordings, [](const auto& r) { return r.name.starts_with("07") || r.name.starts_with("08"); });
    id = identification::identify(job.recordings, job.machine);
    proposal = propose(id, job.machine, {.search = false});
    for (const auto& r : job.recordings)
      if (!move && r.kind == recording::RunKind::test_move)
        move = move_of(r, job.machine, *job.machine.servo_period_s);
  }
  CapturePlan plan(const CaptureLimits& limits) const {
    return plan_next_capture(job.recordings, job.machine, id, proposal, move, {}, limits);
  }
};
const Asked& asked() {
  static const Asked once;
  return once;
}

}  // namespace

TEST_CASE("carriage at one place only: the next capture is a move with it elsewhere, inside the limits") {
  REQUIRE(asked().proposal.found);
  constexpr double allowed_m = 1e-3;
  const CapturePlan plan = asked().plan({.skew_m = allowed_m});
  REQUIRE(plan.done);
  const ProposedCapture& best = plan.captures.front();
  CHECK(best.kind == recording::RunKind::test_move);
  CHECK(std::abs(best.carriage_y_m - asked().id.motion.carriage_y_m) > 0.1);
  CHECK(best.doubt < 0.8 * plan.now.half_width);
  for (const ProposedCapture& c : plan.captures) {
    if (!c.left_out.empty()) continue;
    CHECK(c.skew_m <= 0.5 * allowed_m);
    CHECK(c.force_part <= 0.9);
    CHECK(c.doubt <= plan.now.half_width);
  }
  const auto carriage = std::find_if(plan.intervals.begin(), plan.intervals.end(),
                                     [](const IntervalChange& x) { return x.key == "carriage_mass_kg"; });
  REQUIRE(carriage != plan.intervals.end());
  CHECK(carriage->expected < 0.5 * carriage->now);
  for (const IntervalChange& x : plan.intervals) CHECK(x.expected <= x.now);
  const auto said = next_capture_finding(plan, asked().job.machine, {});
  REQUIRE(said);
  CHECK(said->verdict == base::Verdict::pass);  // it is offered; nothing hangs on it
  CHECK(said->next.find("carriage at") != std::string::npos);
}

TEST_CASE("a skew limit that nothing keeps leaves nothing to propose, and says why") {
  const CapturePlan plan = asked().plan({.skew_m = 1e-7});
  CHECK_FALSE(plan.done);
  for (const ProposedCapture& c : plan.captures) CHECK((!c.left_out.empty() || c.skew_m <= 0.5e-7));
  CHECK(std::any_of(plan.captures.begin(), plan.captures.end(),
                    [](const auto& c) { return c.left_out.find("over half") != std::string::npos; }));
}

TEST_CASE("where the skew allowed is unknown no multisine is louder than those made") {
  for (const ProposedCapture& c : asked().plan({}).captures) CHECK(c.level <= 1);
}

TEST_CASE("the skew goal between forecast and doubt makes the capture an attention") {
  machine::Machine machine = asked().job.machine;
  const CapturePlan plan = asked().plan({});
  machine.limits.skew_goal_m = 1e-5;
  const double inside = 1e-5 - 0.5 * plan.now.half_width, clear = 1e-5 - 2 * plan.now.half_width;
  CHECK(next_capture_finding(plan, machine, inside)->verdict == base::Verdict::attention);
  CHECK(next_capture_finding(plan, machine, clear)->verdict == base::Verdict::pass);
  CHECK(next_capture_finding(plan, machine, 2e-5)->verdict == base::Verdict::pass);  // the forecast alone misses it
}

TEST_CASE("without a response nothing is proposed under settings that do not know the resonances") {
  identification::Identified id = asked().id;
  id.grey.done = false;
  const CapturePlan plan =
      plan_next_capture(asked().job.recordings, asked().job.machine, id, asked().proposal, asked().move, {}, {});
  CHECK_FALSE(plan.done);
  CHECK(plan.reason.find("multisines") != std::string::npos);
  CHECK(plan.captures.empty());
}

}  // namespace evenbeam::tuning
