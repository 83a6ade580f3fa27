#include "rehearsal/rules.h"

#include <doctest/doctest.h>

#include "base/input_error.h"
#include "base/near_test.h"

using namespace evenbeam::rehearsal;

TEST_CASE("the program's own table has a rule for each operation in each state") {
  const RuleTable table = common_practice();
  for (int o = 0; o < operations; ++o)
    for (int s = 0; s < pair_states; ++s) {
      const Rule& r = rule(table, static_cast<Operation>(o), static_cast<PairState>(s));
      CAPTURE(to_text(static_cast<Operation>(o)));
      CAPTURE(to_text(static_cast<PairState>(s)));
      CHECK(!r.reason.empty());
      CHECK((r.goes != Goes::refused || !r.instead.empty()));
      CHECK((r.goes != Goes::refused || r.then.empty()));
    }
}

TEST_CASE("common practice: what goes to both, what to the commanding side alone") {
  const RuleTable table = common_practice();
  const auto goes = [&](Operation o, PairState s) { return rule(table, o, s).goes; };
  for (const auto s : {PairState::tied, PairState::referenced}) {
    CHECK(goes(Operation::search, s) == Goes::both);
    CHECK(goes(Operation::read_absolute, s) == Goes::both);
    CHECK(goes(Operation::jog_both, s) == Goes::commanding_side);
    CHECK(goes(Operation::disable, s) == Goes::commanding_side);
    CHECK(goes(Operation::jog_one, s) == Goes::refused);
  }
  CHECK(goes(Operation::close, PairState::open_loop) == Goes::both);
  CHECK(goes(Operation::push, PairState::open_loop) == Goes::either);
}

TEST_CASE("stopping, switching off and the reaction to a fault are never refused") {
  const RuleTable table = common_practice();
  for (const auto o : {Operation::stop, Operation::emergency_stop, Operation::disable, Operation::fault_one_side})
    for (int s = 0; s < pair_states; ++s) CHECK(rule(table, o, static_cast<PairState>(s)).goes != Goes::refused);
}

TEST_CASE("a job corrects single rules, sizes and the commanding side; the rest stays") {
  const RuleTable before = common_practice();
  const RuleTable table = corrected(before, R"(format = "evenbeam.rehearsal/1"
commanding_side = "b"
[amounts]
jog_way = "2 mm"
[[rule]]
operation = "search"
states = ["closed apart"]
goes_to = "both"
reason = "Manual of this controller, page 12."
then = ["referenced"]
)",
                                    "rehearsal.toml");
  CHECK(!table.commanding_side_is_a);
  CHECK(table.amounts.jog_m == evenbeam::base::test::near(0.002));
  CHECK(table.amounts.search_m == before.amounts.search_m);
  CHECK(rule(table, Operation::search, PairState::closed_apart).goes == Goes::both);
  CHECK(rule(table, Operation::search, PairState::tied).reason ==
        rule(before, Operation::search, PairState::tied).reason);
  CHECK(table.corrected == std::vector<std::string>{"search in closed apart"});
}

TEST_CASE("wrong corrections are refused with every trouble at once") {
  const std::string text = R"(format = "evenbeam.rehearsal/1"
[[rule]]
operation = "stop"
states = ["tied"]
goes_to = "refused"
reason = "no"
instead = "wait"
[[rule]]
operation = "dance"
states = ["tied", "afloat"]
goes_to = "both"
reason = "x"
[[rule]]
operation = "search"
states = ["tied", "tied"]
goes_to = "refused"
reason = "x"
)";
  try {
    corrected(common_practice(), text, "rehearsal.toml");
    FAIL("accepted");
  } catch (const evenbeam::base::InputError& error) {
    const std::string words = error.what();
    for (const char* part : {"stop is never refused", "dance", "afloat", "twice", "instead"})
      CHECK_MESSAGE(words.find(part) != std::string::npos, part << " in " << words);
  }
}
