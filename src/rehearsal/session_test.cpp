#include "rehearsal/session.h"

#include <doctest/doctest.h>

#include "base/input_error.h"

namespace evenbeam::rehearsal {
using enum Operation;  // here, not outside: the system has a function close too

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

TEST_CASE("a homing method of the drive standard is taken, one that it does not have is wrong") {
  Pair pair = tied_pair();
  CHECK(!judge(table(), pair, {.operation = search, .homing_method = 31}).right);
  CHECK(!judge(table(), pair, {.operation = search, .homing_method = -3}).right);
  CHECK(judge(table(), pair, {.operation = search, .homing_method = 33}).right);
  CHECK(read_script("format = \"evenbeam.session/1\"\n[[step]]\noperation = \"search\"\nhoming_method = 33\n", "s")
            .steps[0]
            .homing_method == 33);
}

TEST_CASE("the way to an operation replays right; where the table has none, there is none") {
  for (int i = 0; i < operations; ++i) {
    const auto o = static_cast<Operation>(i);
    for (int s = 0; s < pair_states; ++s) {
      const auto in = static_cast<PairState>(s);
      const auto way = way_to(table(), {}, o, {in});
      Pair pair;
      for (const Judged& step : way) CHECK(judge(table(), pair, step.step).right);
      const bool refused = rule(table(), o, in).goes == Goes::refused;
      CAPTURE(to_text(o));
      CAPTURE(to_text(in));
      CHECK(way.empty() == (refused || in == PairState::fault));
    }
  }
}

}  // namespace evenbeam::rehearsal
