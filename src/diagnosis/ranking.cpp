#include "diagnosis/ranking.h"

#include <algorithm>
#include <array>
#include <cstddef>
#include <span>
#include <string_view>
#include <utility>

namespace evenbeam::diagnosis {
namespace {

// What an output or a reading shows by itself, whatever fight it makes.
constexpr std::array<std::string_view, 4> kSeenAtOnce{"tripped_in_motion", "one_side_off_", "dead_band_",
                                                      "position_jumps_"};

// Stations whose findings told_by_stations.cpp repeats, their name before the id.
constexpr std::array<std::string_view, 3> kOthers{"nudge_", "marks_", "ready_"};

bool begins_with_one(const std::string& id, std::span<const std::string_view> words) {
  return std::any_of(words.begin(), words.end(), [&](std::string_view word) { return id.starts_with(word); });
}

}  // namespace

int turn_of(const base::Finding& f) {
  if (is_unknown_cause(f)) return 3;
  if (begins_with_one(f.id, kSeenAtOnce)) return 0;
  return begins_with_one(f.id, kOthers) ? 1 : 2;
}

bool is_unknown_cause(const base::Finding& f) { return f.id == "law_not_followed" || f.id == "fight_unexplained"; }

std::string kind_of(const base::Finding& f) {
  const std::string tail = "_" + f.recording;
  return !f.recording.empty() && f.id.ends_with(tail) ? f.id.substr(0, f.id.size() - tail.size()) : f.id;
}

std::vector<Ranked> ranked(const std::vector<Cause>& told, const std::vector<Cause>& found) {
  std::vector<std::pair<int, Ranked>> kinds;
  const auto take = [&](const Cause& c) {
    const auto same = std::find_if(kinds.begin(), kinds.end(), [&](const auto& k) {
      return kind_of(k.second.cause.finding) == kind_of(c.finding);
    });
    if (same == kinds.end()) {
      kinds.push_back({turn_of(c.finding), {c, 1}});
      return;
    }
    ++same->second.captures;
    if (c.fight_n > same->second.cause.fight_n) same->second.cause = c;
  };
  for (const Cause& c : told) take(c);
  for (const Cause& c : found) take(c);
  std::stable_sort(kinds.begin(), kinds.end(), [](const auto& p, const auto& q) {
    return std::pair(p.first, -p.second.cause.fight_n) < std::pair(q.first, -q.second.cause.fight_n);
  });
  std::vector<Ranked> out;
  for (auto& [turn, r] : kinds) out.push_back(std::move(r));
  return out;
}

}  // namespace evenbeam::diagnosis
