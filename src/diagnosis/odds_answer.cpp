#include "diagnosis/odds_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <string_view>
#include <utility>

#include "base/check.h"
#include "diagnosis/cause_groups.h"
#include "diagnosis/ranking.h"

namespace evenbeam::diagnosis {
namespace {

using base::Finding;
using base::Verdict;

constexpr double kAlike = 3;     // odds within this factor: two about as likely; a proposal, no source
constexpr double kLeast = 0.15;  // of the second
constexpr double kNone = 0.5;    // from which "none of these" is the answer
constexpr const char* kSource = "src/diagnosis/odds_table.cpp; trained on invented machines (docs/causes.md, Odds)";

// The capture that parts two kinds, by the beginnings of their ids. Common practice, no source.
struct Parted {
  std::string_view one, other;
  const char* capture;
};
constexpr Parted kParted[] = {
    {"unequal_friction", "unequal_viscous_friction",
     "a slow jog over the whole travel, there and back, at three speeds: what stays is Coulomb, what grows is "
     "viscous"},
    {"unequal_friction", "unequal_force_per_output",
     "pushes of each side at three levels: friction is what is lacking at each level alike, force per output grows"},
    {"unequal_friction", "tight_spot",
     "two slow jogs over the whole travel: a spot stays where it is, a drag is everywhere"},
    {"unequal_friction", "hunts_at_rest",
     "the rest after a move with the skew loop's gain halved: a loop's swing shrinks"},
    {"nudge_sign", "pull_on_the_bridge",
     "pushes both ways from one place, loops open: a pull helps one way and hinders the other, a sign is wrong in "
     "both"},
    {"clocks_drift", "unequal_friction",
     "the same move again after a quarter of an hour of moving: a friction that warms has settled, clocks drift on"},
    {"play", "unequal_friction",
     "skew steps at rest of half, one and two times the play: through the play no force answers"},
    {"b_follows_a", "unequal_viscous_friction",
     "the same move with the reference of B's own loop on record: one that follows shows A's position there"},
    {"mass_not_as_stated", "unequal_force_per_output", "a known force pulling at each side in turn (station fit)"},
    {"commands_apart", "unequal_sampling", "the same move with both references recorded by one device in one cycle"},
    {"fight_grows_along_x", "tight_spot", "a laser or one long scale read on both sides over the same way"},
};

std::string in_words(double odds) {
  if (odds < 0.01) return "under 1 %";
  return odds > 0.99 ? "over 99 %" : fmt::format("{:.0f} %", 100 * odds);
}

const char* parting_capture(const std::string& one, const std::string& other) {
  for (const Parted& p : kParted)
    if ((one.starts_with(p.one) && other.starts_with(p.other)) ||
        (one.starts_with(p.other) && other.starts_with(p.one)))
      return p.capture;
  return nullptr;
}

Finding alike(const Finding& first, const Finding& second, double odds, double other_odds) {
  const std::string one = kind_of(first), other = kind_of(second);
  const char* const capture = parting_capture(one, other);
  return {
      .id = "causes_not_told_apart",
      .verdict = Verdict::not_done,
      .text = fmt::format("{} and {} are about as likely in these captures, {:.0f} % and {:.0f} %.", one, other,
                          100 * odds, 100 * other_odds),
      .source = kSource,
      .next = capture != nullptr
                  ? fmt::format("Make this one: {}.", capture)
                  : "No one capture is known that parts these two: mend the first as its finding says, make the same "
                    "captures again, and see which of the two is gone."};
}

Finding none(double odds) {
  return {
      .id = "none_of_these",
      .verdict = Verdict::not_done,
      .text =
          fmt::format("None of the causes above is likelier than that it is one of them: {:.0f} % that the cause is "
                      "none of these, or that there is none.",
                      100 * odds),
      .value = odds,
      .unit = "1",
      .limit = kNone,
      .source = kSource,
      .next =
          "Do not change the machine on this answer alone. Record the same captures again on another day: what is "
          "there twice at the same place or time is worth a look."};
}

base::Row row_of(const std::string& cause, const std::string& defect, const std::string& recording, double odds,
                 std::size_t place) {
  return {{"cause", cause},
          {"defect", defect},
          {"recording", recording},
          {"odds", odds},
          {"place_by_rule", static_cast<double>(place)}};
}

// The findings of one cause: the leader with the odds, the others as further signs of it.
void tell(const std::vector<Finding>& met, const Sign& sign, double odds, std::vector<Finding>& findings,
          std::vector<base::Row>& rows) {
  const std::string leader = kind_of(met[sign.members.front()]);
  for (const std::size_t k : sign.members) {
    Finding f = met[k];
    if (k == sign.members.front())
      f.text += fmt::format(" Odds {}.", in_words(odds));
    else
      f.text += fmt::format(" A further sign of the cause above, {}; the odds are of both together.", leader);
    rows.push_back(row_of(kind_of(f), sign.cause, f.recording, odds, k));
    findings.push_back(std::move(f));
  }
}

// Bars: one place a cause, by the kind that leads it.
base::Figure figure_of(const std::vector<Finding>& met, const std::vector<Sign>& signs,
                       const std::vector<std::size_t>& order, const Odds& odds) {
  base::Figure out{.id = "causes_odds",
                   .title = "How likely each cause is",
                   .caption = "One main cause taken; trained on invented machines, not on this one."};
  base::Panel panel{.x = {.label = "cause", .unit = ""}, .y = {.label = "odds", .unit = "%"}};
  const auto bar = [&](const std::string& label, double p, base::Role role) {
    const double x = static_cast<double>(panel.lines.size());
    panel.lines.push_back({.role = role, .label = label, .x = {x - 0.3, x + 0.3}, .y = {100 * p, 100 * p}});
  };
  for (const std::size_t k : order) bar(kind_of(met[signs[k].members.front()]), odds.of[k], base::Role::measured);
  bar("none of these", odds.none, base::Role::other);
  out.panels.push_back(panel);
  return out;
}

}  // namespace

OddsAnswer odds_answer(const std::vector<Finding>& met) { return odds_answer(met, odds_of(met)); }

OddsAnswer odds_answer(const std::vector<Finding>& met, const Odds& odds) {
  OddsAnswer out{.value = {.unit = "1"}};
  if (met.empty()) return out;
  const std::vector<Sign> signs = signs_of(met);
  base::check(signs.size() == odds.of.size(), "odds of each cause");
  std::vector<std::size_t> order(signs.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t i, std::size_t k) { return odds.of[i] > odds.of[k]; });
  std::vector<base::Row> rows;
  for (const std::size_t k : order) tell(met, signs[k], odds.of[k], out.findings, rows);
  rows.push_back(row_of("none_of_these", "none_of_these", "", odds.none, met.size()));
  out.value.value = rows;
  out.figure = figure_of(met, signs, order, odds);
  if (odds.none > kNone) out.findings.push_back(none(odds.none));
  if (order.size() < 2) return out;
  const double first = odds.of[order[0]], second = odds.of[order[1]];
  const auto leader = [&](std::size_t k) { return met[signs[order[k]].members.front()]; };
  if (second > kLeast && first < kAlike * second) out.findings.push_back(alike(leader(0), leader(1), first, second));
  return out;
}

}  // namespace evenbeam::diagnosis
