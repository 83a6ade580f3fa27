#include "diagnosis/cause_groups.h"

#include <doctest/doctest.h>

#include "base/near_test.h"
#include "diagnosis/cause.h"
#include "diagnosis/odds_answer.h"

namespace evenbeam::diagnosis {
namespace {

base::Finding met(const std::string& id, double value, double limit) {
  return cause(id, math::with_sd(value, 1), "N", limit, {"Seen.", ""}, 0).finding;
}

}  // namespace

TEST_CASE("findings that name one defect are one cause, in the order of their leaders") {
  const auto groups = grouped({met("nudge_sign_b", 1, 0), met("unequal_friction", 2, 1), met("nudge_crossed", 1, 0),
                               met("tight_spot_a", 2, 1), met("tight_spot_b", 2, 1)});
  REQUIRE(groups.size() == 3);
  CHECK(groups[0].cause == "wiring");
  CHECK(groups[0].members == std::vector<std::size_t>{0, 2});
  CHECK(groups[1].cause == "unequal_friction");
  CHECK(groups[2].cause == "tight_spot");
  CHECK(groups[2].members == std::vector<std::size_t>{3, 4});
  CHECK(cause_of("something_new") == "something_new");
}

// u = 1 + (0.5 + 0.25) + 0.5 ln 2 + 0.2 = 2.2966 for the pair, 1 for the other: 9.940/(1 + 9.940 + 2.718) = 72.8 %.
TEST_CASE("two findings of one cause share one probability: by hand") {
  constexpr KindWeight kinds[] = {{"nudge_crossed", 0.5}, {"nudge_sign_b", 0.25}};
  const OddsTable table{.turn = {0, 1, 1, 0}, .over = 0.5, .more = 0.2, .kinds = kinds};
  const auto signs = signs_of({met("nudge_sign_b", 1, 0), met("unequal_friction", 1, 0), met("nudge_crossed", 2, 1)});
  REQUIRE(signs.size() == 2);
  CHECK(signs[0].more == 1);
  const Odds odds = odds_of(table, signs);
  CHECK(odds.of[0] == base::test::near(0.7278).epsilon(1e-3));
  CHECK(odds.of[0] + odds.of[1] + odds.none == base::test::near(1));
  // Twice as blunt: e^(u/2) 3.153 and 1.649.
  OddsTable blunt = table;
  blunt.temperature = 2;
  CHECK(odds_of(blunt, signs).of[0] == base::test::near(3.1532 / (1 + 3.1532 + 1.6487)).epsilon(1e-3));
}

TEST_CASE("the further signs of a cause stand below it and share its odds") {
  const std::vector<base::Finding> list{met("nudge_sign_b", 1, 0), met("unequal_friction", 1, 0),
                                        met("nudge_crossed", 2, 1)};
  const OddsAnswer answer = odds_answer(list, {.of = {0.7, 0.2}, .none = 0.1});
  REQUIRE(answer.findings.size() >= 3);
  CHECK(answer.findings[0].text.find("Odds 70 %") != std::string::npos);
  CHECK(answer.findings[1].id == "nudge_crossed");
  CHECK(answer.findings[1].text.find("further sign of the cause above, nudge_sign_b") != std::string::npos);
  CHECK(answer.findings[2].id == "unequal_friction");
  const auto& rows = std::get<std::vector<base::Row>>(answer.value.value);
  REQUIRE(rows.size() == 4);
  CHECK(*base::find_number(rows[1], "odds") == base::test::near(0.7));
  CHECK(*base::find_number(rows[1], "place_by_rule") == 2);
}

}  // namespace evenbeam::diagnosis
