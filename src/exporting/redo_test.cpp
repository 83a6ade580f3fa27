#include "exporting/redo.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <bit>

#include "base/input_error.h"

using namespace evenbeam;
using exporting::RedoPlan;

namespace {

std::vector<std::string> names(const std::vector<RedoPlan::Item>& items) {
  std::vector<std::string> out;
  for (const RedoPlan::Item& item : items) out.push_back(item.name);
  return out;
}

bool has(const std::vector<std::string>& list, const std::string& name) {
  return std::find(list.begin(), list.end(), name) != list.end();
}

machine::Machine scales_on_load() {
  machine::Machine m;
  m.span_m = 2;
  for (machine::Side* side : {&m.a, &m.b}) {
    side->feedback_place = machine::FeedbackPlace::load;
    side->drive = machine::DriveKind::screw;
  }
  return m;
}

std::string refusal(const std::string& text) {
  try {
    exporting::read_redo_table(text, "redo.toml");
  } catch (const base::InputError& error) {
    return error.what();
  }
  return "";
}

}  // namespace

TEST_CASE("the table holds every repair that can be asked for, and every fact can be settled") {
  const auto& table = exporting::redo_table();
  for (const char* name :
       {"drive-a", "drive-b", "motor-a", "motor-b", "scale-a", "scale-b", "belt", "guide", "crash"}) {
    CAPTURE(name);
    CHECK(has(exporting::redo_names(table), name));
    const RedoPlan plan = exporting::redo_after(table, name, {});
    CHECK_FALSE(plan.captures.empty());
    CHECK(has(names(plan.stations), "prove"));
    for (const auto& change : plan.doubtful) CHECK_FALSE(change.why.empty());
    // Every doubtful fact is settled by exactly one of the captures listed, as its reason.
    size_t settled = 0;
    for (const auto& capture : plan.captures) {
      CHECK_FALSE(capture.because.empty());
      settled += capture.because.size();
    }
    CHECK(settled == plan.doubtful.size());
  }
  CHECK(exporting::redo_names(table).size() == 9);
}

TEST_CASE("after a drive swap: what a careful engineer would do, and no more") {
  const RedoPlan plan = exporting::redo_after(exporting::redo_table(), "drive-b", scales_on_load());
  CHECK(names(plan.captures) == std::vector<std::string>{"parameter comparison", "check sheet", "electrical angle",
                                                         "nudge", "searches", "multisine from A", "multisine from B",
                                                         "cross-trip", "test moves"});
  CHECK(plan.still_holds == std::vector<std::string>{"limits"});
  CHECK(std::none_of(plan.doubtful.begin(), plan.doubtful.end(), [](const auto& change) {
    return change.fact.rfind("A: ", 0) == 0 && change.fact != "A: lag, stiffness and modes seen from this side";
  }));
  const RedoPlan other = exporting::redo_after(exporting::redo_table(), "drive-a", scales_on_load());
  CHECK(std::none_of(other.doubtful.begin(), other.doubtful.end(), [](const auto& change) {
    return change.fact.rfind("B: ", 0) == 0 && change.fact != "B: lag, stiffness and modes seen from this side";
  }));
}

TEST_CASE("what the machine rules out is left out and said; what is not known of it stays in") {
  const auto& table = exporting::redo_table();
  const RedoPlan known = exporting::redo_after(table, "motor-b", scales_on_load());
  const RedoPlan unknown = exporting::redo_after(table, "motor-b", {});
  CHECK_FALSE(has(names(known.captures), "searches"));
  CHECK(has(names(unknown.captures), "searches"));
  CHECK(known.left_out.size() == 2);
  CHECK(unknown.left_out.empty());
  const RedoPlan scale = exporting::redo_after(table, "scale-a", scales_on_load());
  CHECK_FALSE(has(names(scale.captures), "electrical angle"));
  CHECK(has(names(scale.captures), "squareness measurement"));
  CHECK_FALSE(has(names(scale.stations), "fit"));
}

TEST_CASE("the list is the shortest: no smaller set of captures settles the same facts") {
  const auto& table = exporting::redo_table();
  for (const std::string& name : exporting::redo_names(table)) {
    const auto repair =
        std::find_if(table.repairs.begin(), table.repairs.end(), [&](const auto& one) { return one.name == name; });
    const size_t chosen = exporting::redo_after(table, name, {}).captures.size();
    for (unsigned set = 0; set < 1u << table.captures.size(); ++set) {
      if (static_cast<size_t>(std::popcount(set)) >= chosen) continue;
      bool all = true;
      for (const auto& change : repair->changes) {
        bool settled = false;
        for (size_t i = 0; i < table.captures.size(); ++i)
          settled |= (set >> i & 1) && has(table.captures[i].settles, change.fact);
        if (!(all &= settled)) break;
      }
      REQUIRE_FALSE_MESSAGE(all, name << ": " << set << " is shorter");
    }
  }
}

TEST_CASE("a request and a table that are wrong are refused with what is right") {
  CHECK_THROWS_WITH_AS(exporting::redo_after(exporting::redo_table(), "drive", {}),
                       doctest::Contains("one of drive-a, motor-a"), base::InputError);
  CHECK(refusal("format = \"evenbeam.redo/2\"\n").find("evenbeam.redo/2") != std::string::npos);
  const std::string small = "format = \"evenbeam.redo/1\"\nfact = [{ name = \"mark_x\", words = \"mark\" }]\n";
  CHECK(refusal(small) == "");
  CHECK(refusal(small + "[[repair]]\nname = \"hit\"\nwhat = \"w\"\nchanges = [{ fact = \"mark_ab\", why = \"w\" }]\n")
            .find("a capture that settles") != std::string::npos);
  CHECK(refusal(small + "capture = [{ name = \"c\", how = \"h\", settles = [\"makr_a\"] }]\n").find("makr_a") !=
        std::string::npos);
  CHECK(refusal(small + "capture = [{ name = \"c\" }]\n").find("no 'how'") != std::string::npos);
}
