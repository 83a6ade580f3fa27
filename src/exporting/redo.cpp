#include "exporting/redo.h"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cstdint>
#include <optional>

#include "base/input_error.h"

namespace evenbeam::exporting {
namespace {

using machine::DriveKind;
using machine::FeedbackPlace;

// Whether the machine rules a change out on the sides concerned; not known = no.
bool ruled_out(const RedoChange& change, const machine::Machine& m) {
  const bool on_a = change.fact.size() < 2 || change.fact.substr(change.fact.size() - 2) != "_b";
  const bool on_b = change.fact.size() < 2 || change.fact.substr(change.fact.size() - 2) != "_a";
  const auto both = [&](auto holds) { return (!on_a || holds(m.a, m.brake_a)) && (!on_b || holds(m.b, m.brake_b)); };
  using machine::Brake;
  using machine::Side;
  if (change.unless == "feedback on load")
    return both([](const Side& s, const Brake&) { return s.feedback_place == FeedbackPlace::load; });
  if (change.unless == "turning motor")
    return both([](const Side& s, const Brake&) {
      return s.drive != DriveKind::linear_motor && s.drive != DriveKind::unknown;
    });
  return false;
}

std::uint32_t bits_of(const std::vector<std::string>& names, const std::vector<RedoFact>& facts) {
  std::uint32_t bits = 0;
  for (size_t i = 0; i < facts.size(); ++i)
    if (std::find(names.begin(), names.end(), facts[i].name) != names.end()) bits |= 1u << i;
  return bits;
}

// The smallest set of captures that settles `wanted`, as bits; among equals the earliest captures.
std::uint32_t fewest(const RedoTable& table, std::uint32_t wanted) {
  std::vector<std::uint32_t> settles;
  for (const RedoCapture& c : table.captures) settles.push_back(bits_of(c.settles, table.facts));
  std::optional<std::uint32_t> best;
  for (std::uint32_t set = 0; set < 1u << settles.size(); ++set) {
    std::uint32_t settled = 0;
    for (size_t i = 0; i < settles.size(); ++i)
      if (set >> i & 1) settled |= settles[i];
    if ((settled & wanted) == wanted && (!best || std::popcount(set) < std::popcount(*best))) best = set;
  }
  return best.value_or(0);
}

std::vector<std::string> names_of(std::uint32_t bits, const std::vector<RedoFact>& facts) {
  std::vector<std::string> names;
  for (size_t i = 0; i < facts.size(); ++i)
    if (bits >> i & 1) names.push_back(facts[i].name);
  return names;
}

std::vector<std::string> words_of(std::uint32_t bits, const std::vector<RedoFact>& facts) {
  std::vector<std::string> words;
  for (size_t i = 0; i < facts.size(); ++i)
    if (bits >> i & 1) words.push_back(facts[i].words);
  return words;
}

}  // namespace

std::vector<std::string> redo_names(const RedoTable& table) {
  std::vector<std::string> names;
  for (const RedoRepair& repair : table.repairs) names.push_back(repair.name);
  return names;
}

RedoPlan redo_after(const RedoTable& table, const std::string& name, const machine::Machine& machine) {
  const auto repair = std::find_if(table.repairs.begin(), table.repairs.end(),
                                   [&](const RedoRepair& one) { return one.name == name; });
  if (repair == table.repairs.end())
    throw base::InputError({.file = "--after " + name,
                            .found = "no repair of that name",
                            .expected = fmt::format("one of {}", fmt::join(redo_names(table), ", ")),
                            .next = "Right: --after drive-b."});
  RedoPlan plan{.after = repair->name, .what = repair->what};
  const auto words = [&](const std::string& fact) {
    return words_of(bits_of({fact}, table.facts), table.facts).at(0);
  };
  std::uint32_t doubtful = 0;
  for (const RedoChange& change : repair->changes) {
    if (ruled_out(change, machine)) {
      plan.left_out.push_back(fmt::format("{}: {}", words(change.fact), change.unless));
      continue;
    }
    doubtful |= bits_of({change.fact}, table.facts);
    plan.doubtful.push_back({words(change.fact), change.why, change.unless});
  }
  plan.doubtful_facts = names_of(doubtful, table.facts);
  const std::uint32_t captures = fewest(table, doubtful);
  std::uint32_t open = doubtful;
  for (size_t i = 0; i < table.captures.size(); ++i) {
    if (!(captures >> i & 1)) continue;
    const std::uint32_t here = open & bits_of(table.captures[i].settles, table.facts);
    plan.captures.push_back(
        {table.captures[i].name, table.captures[i].how, words_of(here, table.facts), names_of(here, table.facts)});
    open &= ~here;
  }
  for (const RedoStation& station : table.stations) {
    const std::uint32_t touched = doubtful & bits_of(station.rests_on, table.facts);
    if (touched)
      plan.stations.push_back({station.name, "", words_of(touched, table.facts), {}});
    else
      plan.still_holds.push_back(station.name);
  }
  return plan;
}

}  // namespace evenbeam::exporting
