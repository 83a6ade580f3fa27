#include "rehearsal/session.h"

#include <doctest/doctest.h>

#include "base/input_error.h"

using namespace evenbeam::rehearsal;
using enum Operation;

namespace {
const RuleTable& table() {
  static const RuleTable own = common_practice();
  return own;
}
Judged run(Pair& pair, Operation operation, Sides sides = Sides::both) {
  return judge(table(), pair, {operation, sides});
}
Pair tied_pair() {
  Pair pair;
  for (const auto o : {enable, close, tie, close}) REQUIRE(run(pair, o).right);
  REQUIRE(state_of(pair) == PairState::tied);
  return pair;
}
}  // namespace

TEST_CASE("from off to referenced: both sides are closed anew after tying") {
  Pair pair;
  CHECK(state_of(pair) == PairState::off);
  CHECK(run(pair, enable).after == PairState::open_loop);
  CHECK(pair.drive_a == DriveState::operation_enabled);
  CHECK(pair.axis == AxisState::standstill);
  CHECK(run(pair, push, Sides::b).right);
  CHECK(run(pair, close).after == PairState::closed_apart);
  CHECK(run(pair, take_out_skew, Sides::a).right);
  CHECK(run(pair, tie).after == PairState::open_loop);
  CHECK(!run(pair, search).right);  // loops are open
  CHECK(run(pair, close).after == PairState::tied);
  CHECK(run(pair, search).after == PairState::referenced);
}

TEST_CASE("a command to the wrong side, or a refused one, changes nothing") {
  Pair pair = tied_pair();
  for (const auto& [operation, sides] :
       {std::pair{search, Sides::a}, std::pair{jog_one, Sides::b}, std::pair{jog_both, Sides::both},
        std::pair{disable, Sides::b}, std::pair{push, Sides::a}}) {
    const Judged judged = run(pair, operation, sides);
    CHECK(!judged.right);
    CHECK(!judged.text.empty());
    CHECK(state_of(pair) == PairState::tied);
  }
  CHECK(run(pair, jog_both, Sides::a).right);
  CHECK(run(pair, disable, Sides::a).after == PairState::off);
  CHECK(run(pair, close).right == false);
  CHECK(run(pair, enable).after == PairState::open_loop);  // closed anew after disabling
  CHECK(run(pair, close).after == PairState::tied);
}

TEST_CASE("a fault on one side takes both off, and only a reset of both leads out") {
  Pair pair = tied_pair();
  const Judged judged = run(pair, fault_one_side, Sides::b);
  CHECK(judged.after == PairState::fault);
  CHECK(judged.drive_b == DriveState::fault);
  CHECK(judged.drive_a == DriveState::switch_on_disabled);
  CHECK(judged.axis == AxisState::error_stop);
  CHECK(!run(pair, enable).right);
  CHECK(run(pair, disable).after == PairState::fault);
  CHECK(run(pair, emergency_stop).after == PairState::fault);
  CHECK(!run(pair, reset, Sides::b).right);
  CHECK(run(pair, reset).after == PairState::off);
  CHECK(pair.drive_b == DriveState::switch_on_disabled);
  CHECK(pair.axis == AxisState::disabled);
}

TEST_CASE("an emergency stop in any state leaves no side powered") {
  Pair pair = tied_pair();
  CHECK(run(pair, emergency_stop).after == PairState::off);
  CHECK(pair.drive_a == DriveState::switch_on_disabled);
  CHECK(pair.drive_b == DriveState::switch_on_disabled);
  CHECK(pair.axis == AxisState::disabled);
}

TEST_CASE("a script is read with its lines, replayed, and refused with every trouble at once") {
  const Script script = read_script(R"(format = "evenbeam.session/1"
name = "first switch-on"
[[step]]
operation = "enable"
[[step]]
operation = "search"
side = "a"
)",
                                    "session.toml");
  CHECK(script.name == "first switch-on");
  REQUIRE(script.steps.size() == 2);
  CHECK(script.steps[1].line == 5);
  CHECK(script.steps[1].sides == Sides::a);
  const auto judged = replay(table(), script);
  CHECK(judged[0].right);
  CHECK(!judged[1].right);
  CHECK(judged[1].rule.one_sided == OneSided::search_dead);
  CHECK_THROWS_AS(read_script("format = \"evenbeam.session/1\"\n", "s"), evenbeam::base::InputError);
  CHECK_THROWS_AS(read_script("format = \"evenbeam.session/1\"\n[[step]]\noperation = \"dance\"\n", "s"),
                  evenbeam::base::InputError);
}
