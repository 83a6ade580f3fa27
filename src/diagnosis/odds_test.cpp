#include "diagnosis/odds.h"

#include <doctest/doctest.h>

#include <cmath>

#include "base/near_test.h"
#include "diagnosis/cause.h"
#include "diagnosis/odds_answer.h"

namespace evenbeam::diagnosis {
namespace {

base::Finding met(const std::string& id, double value, double limit) {
  return cause(id, math::with_sd(value, 1), "N", limit, {"Seen.", ""}, 0).finding;
}

TEST_CASE("a finding is weighed by its turn, how far it is over, its place and how many others there are") {
  const auto signs = signs_of({met("dead_band_b_", 10, 0), met("nudge_strength", 2, 1),
                               met("unequal_friction", -60, 2), met("fight_unexplained", 1, 1)});
  REQUIRE(signs.size() == 4);
  CHECK(signs[0].turn == 0);
  CHECK(signs[0].over == 0);  // no limit
  CHECK(signs[1].turn == 1);
  CHECK(signs[1].over == base::test::near(std::log(2.0)));
  CHECK(signs[2].turn == 2);
  CHECK(signs[2].over == 3);  // 30 times: ln 30 = 3.4, held at 3
  CHECK(signs[2].place == 2);
  CHECK(signs[2].others == 3);
  CHECK(signs[3].turn == 3);
}

// u = 1 + 0.5 = 1.5 and 0 + 0.5 ln 2 - 1 + 0.25 = -0.4034; e^u = 4.4817 and 0.6680; sum with 1: 6.1497
TEST_CASE("odds by hand: 72.9 %, 10.9 % and 16.3 % that it is none") {
  const OddsTable table{.turn = {0, 0, 1, 0}, .over = 0.5, .place = -1, .others = 0.25};
  const Odds odds = odds_of(table, {{.turn = 2, .over = 0.5, .place = 0, .others = 1},
                                    {.turn = 0, .over = std::log(2.0), .place = 1, .others = 1}});
  CHECK(odds.of[0] == base::test::near(std::exp(1.5) / (1 + std::exp(1.5) + std::exp(-0.403426))));
  CHECK(odds.of[1] == base::test::near(0.668028 / 6.149717).epsilon(1e-4));
  CHECK(odds.of[0] + odds.of[1] + odds.none == base::test::near(1));
}

TEST_CASE("both sides of a kind weigh the same, and an unknown kind nothing") {
  constexpr KindWeight kinds[] = {
      {"tight_spot_a", -1}, {"tight_spot_b", -2}, {"one_side_off_b", 3}, {"nudge_crossed", 4}};
  const OddsTable table{.kinds = kinds};
  CHECK(kind_weight(table, "tight_spot_a") == -1.5);
  CHECK(kind_weight(table, "tight_spot_b") == -1.5);
  CHECK(kind_weight(table, "one_side_off_a") == 3);
  CHECK(kind_weight(table, "nudge_crossed") == 4);
  CHECK(kind_weight(table, "nudge_cross") == 0);
}

TEST_CASE("nothing met, nothing said") {
  const OddsAnswer answer = odds_answer({});
  CHECK(answer.findings.empty());
  CHECK(std::holds_alternative<std::monostate>(answer.value.value));
  CHECK_FALSE(answer.figure.has_value());
}

TEST_CASE(
    "the likeliest stands first, all odds with that of none sum to one, and each row keeps its place by the rules") {
  const OddsAnswer answer = odds_answer({met("law_not_followed", 1.1, 1), met("dead_band_b_", 10, 0)});
  REQUIRE(answer.findings.size() >= 2);
  CHECK(answer.findings[0].id == "dead_band_b_");
  CHECK(answer.findings[0].text.find("Odds ") != std::string::npos);
  const auto& rows = std::get<std::vector<base::Row>>(answer.value.value);
  REQUIRE(rows.size() == 3);
  CHECK(*base::find_number(rows[0], "place_by_rule") == 1);
  // Law not followed is no cause by name: it has the odds of none of these, and the others sum to one with them.
  CHECK(*base::find_number(rows[1], "odds") == *base::find_number(rows[2], "odds"));
  CHECK(*base::find_number(rows[0], "odds") + *base::find_number(rows[2], "odds") == base::test::near(1));
  REQUIRE(answer.figure.has_value());
  CHECK(answer.figure->panels[0].lines.size() == 3);
}

TEST_CASE("two that are as likely are said to be, with the capture that parts them") {
  const std::vector<base::Finding> two{met("nudge_sign_run", 1, 0), met("pull_on_the_bridge", 1, 1)};
  OddsAnswer answer = odds_answer(two, {.of = {0.45, 0.4}, .none = 0.15});
  REQUIRE(answer.findings.size() == 3);
  CHECK(answer.findings[2].id == "causes_not_told_apart");
  CHECK(answer.findings[2].next.find("pushes both ways") != std::string::npos);
  answer = odds_answer(two, {.of = {0.85, 0.05}, .none = 0.1});
  CHECK(answer.findings.size() == 2);
  answer = odds_answer(two, {.of = {0.3, 0.1}, .none = 0.6});
  REQUIRE(answer.findings.size() == 3);
  CHECK(answer.findings[2].id == "none_of_these");
}

}  // namespace
}  // namespace evenbeam::diagnosis
