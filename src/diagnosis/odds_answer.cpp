#include "diagnosis/odds_answer.h"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <numeric>
#include <string_view>
#include <utility>

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
    {"unequal_sampling", "unequal_viscous_friction",
     "a push with loops open, left to coast: a drag slows its side, late sampling does not"},
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

base::Row row_of(const std::string& cause, const std::string& recording, double odds, std::size_t place) {
  return {{"cause", cause}, {"recording", recording}, {"odds", odds}, {"place_by_rule", static_cast<double>(place)}};
}

// Bars: one place an entry.
base::Figure figure_of(const std::vector<Finding>& met, const std::vector<std::size_t>& order, const Odds& odds) {
  base::Figure out{.id = "causes_odds",
                   .title = "How likely each cause is",
                   .caption = "One main cause taken; trained on invented machines, not on this one."};
  base::Panel panel{.x = {.label = "cause", .unit = ""}, .y = {.label = "odds", .unit = "%"}};
  const auto bar = [&](const std::string& label, double p, base::Role role) {
    const double x = static_cast<double>(panel.lines.size());
    panel.lines.push_back({.role = role, .label = label, .x = {x - 0.3, x + 0.3}, .y = {100 * p, 100 * p}});
  };
  for (const std::size_t k : order) bar(kind_of(met[k]), odds.of[k], base::Role::measured);
  bar("none of these", odds.none, base::Role::other);
  out.panels.push_back(panel);
  return out;
}

}  // namespace

OddsAnswer odds_answer(const std::vector<Finding>& met) { return odds_answer(met, odds_of(met)); }

OddsAnswer odds_answer(const std::vector<Finding>& met, const Odds& odds) {
  OddsAnswer out{.value = {.unit = "1"}};
  if (met.empty()) return out;
  std::vector<std::size_t> order(met.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t i, std::size_t k) { return odds.of[i] > odds.of[k]; });
  std::vector<base::Row> rows;
  for (const std::size_t k : order) {
    Finding f = met[k];
    f.text += fmt::format(" Odds {}.", in_words(odds.of[k]));
    rows.push_back(row_of(kind_of(f), f.recording, odds.of[k], k));
    out.findings.push_back(std::move(f));
  }
  rows.push_back(row_of("none_of_these", "", odds.none, met.size()));
  out.value.value = rows;
  out.figure = figure_of(met, order, odds);
  if (odds.none > kNone) out.findings.push_back(none(odds.none));
  if (order.size() < 2) return out;
  const double first = odds.of[order[0]], second = odds.of[order[1]];
  if (second > kLeast && first < kAlike * second)
    out.findings.push_back(alike(met[order[0]], met[order[1]], first, second));
  return out;
}

}  // namespace evenbeam::diagnosis
